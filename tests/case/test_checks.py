"""The rarer checks: key and message of everything found (the lines are tested with the common ones)."""

import pytest

from thermsim.case import Case, CaseError

SINK = '\n[sink.s]\non = "part.fpga"\nairway = "main"\n'
PASTE = '[joint.paste]\nbetween = ["part.fpga", "sink.s"]\nresistance = "0.1 K/W"\n'
FINS = 'base = "30 x 30 mm"\nfin_height = "20 mm"\nfin_thickness = "1 mm"\nconductivity = "200 W/mK"\n'
LID = '\n[sheet.lid]\ncorner = "{corner}"\nsize = "50 x 50 mm"\nthickness = "1 mm"\nmaterial = "copper"\n'
HEAT = 'conductivity = "25 W/mK"\nheat_density = "2.0 MJ/m3K"\n'
PAD = 'resistance = "0.3 K/W"'
PATH = '["plate.cold", "radiator.outside"]'
SWITCH = '\n[governor.g]\nsensor = "part.fpga"\ndrives = {drives}\nlaw = "switch"\n'
ABOVE = 'on_above = "50 degC"\noff_below = "45 degC"\n'
BLOCK = '\n[block.b]\nresistance = "0.1 K/W"\nvolume = "9 mL"\n'


def change(*pairs: tuple[str, str], **more):
    """What to do to the base case, for the `changed` fixture."""
    return pairs, more


FOUND = [
    # --- sheets, patches, sources
    (
        change((HEAT, 'layers = [{ thickness = "2 mm", copper = "9 %" }]\n')),
        ["sheet.board.layers: 2 mm in all, but the sheet has 1.6 mm"],
    ),
    (
        change((HEAT, 'material = "copper"\nconductivity_y = "3 W/mK"\n')),
        ["sheet.board.conductivity_y: goes with conductivity only"],
    ),
    (
        change((HEAT, HEAT + 'heat_capacity = "9 J/K"\n')),
        ["sheet.board.heat_capacity: give only one of heat_density, heat_capacity"],
    ),
    (
        change(more='\n[sheet.board.patch.p]\ncorner = "0, 0 mm"\nsize = "9 x 9 mm"\n'),
        ["sheet.board.patch.p: give one of material, layers, conductivity, or another thickness"],
    ),
    (
        change(more='\n[source.s]\non = "sheet.board"\nwatts = "1 W"\nflux = "1 W/m2"\n'),
        ["source.s.flux: give only one of watts, flux"],
    ),
    (
        change(more='\n[source.s]\non = "sheet.board"\nwatts = "1 W"\n'
               'corner = "90, 0 mm"\nsize = "20 x 9 mm"\n'),
        ["source.s.corner: x 90 to 110, y 0 to 9 mm is not inside sheet.board, x 0 to 100, y 0 to 80 mm"],
    ),
    (
        change(
            more='\n[sheet.board.cutout.c]\ncorner = "0, 0 mm"\nsize = "9 x 9 mm"\n'
            '[probe.p]\non = "sheet.board"\nat = "3, 3 mm"\n'
        ),
        ['probe.p.at: lies in cutout "c" of sheet.board'],
    ),
    (change(('"40, 20 mm", "40, 60 mm"', '"40, 20 mm"'), loop=True),
     ["plate.cold.channel.path: needs at least two points"]),
    # --- parts and joints
    (
        change(('on = "sheet.board"\ncentre', "centre"), loop=True),
        ["part.fpga.to_board: leads nowhere: the part is on no sheet"],
    ),
    (
        change((PAD, PAD + '\ncontact = "20 mm2K/W"'), loop=True),
        ["joint.pad.contact: goes with bond_line only"],
    ),
    (
        change((PAD, 'resistivity = "20 mm2K/W"\narea = "10 cm2"'), loop=True),
        ["joint.pad.area: is more than both ends cover, 9 cm²"],
    ),
    (
        change((PAD, PAD + '\narea = "1 cm2"\ncorner = "40, 30 mm"\nsize = "9 x 9 mm"'), loop=True),
        ["joint.pad.area: give either an area, or a corner and a size"],
    ),
    (
        change((PAD, PAD + '\ncorner = "40, 30 mm"'), loop=True),
        ["joint.pad.size: missing; corner and size go together"],
    ),
    (
        change(('["part.fpga", "plate.cold"]', '["plate.cold", "plate.cold"]'), loop=True),
        ["joint.pad.between: joins plate.cold to itself"],
    ),
    (
        change(
            ('["part.fpga", "plate.cold"]', '["part.loose", "plate.cold"]'),
            more='\n[part.loose]\nwatts = "1 W"\nheat_capacity = "1 J/K"\n',
            loop=True,
        ),
        ["joint.pad: where on plate.cold? Please give part.loose a centre and size, "
         "or the joint a corner and size"],
    ),
    (
        change(
            more=BLOCK
            + '[part.loose]\nwatts = "1 W"\nheat_capacity = "1 J/K"\n'
            + '[joint.j]\nbetween = ["part.loose", "block.b"]\nresistivity = "20 mm2K/W"\n'
        ),
        ['joint.j.area: missing; the ends do not tell it, for example area = "25 cm2"'],
    ),
    (
        change(more=LID.format(corner="200, 0 mm")
               + '[radiation.r]\nbetween = ["sheet.board", "sheet.lid"]\nemissivity = [0.9, 0.9]\n'),
        ["radiation.r.between: sheet.board (x 0 to 100, y 0 to 80 mm) and "
         "sheet.lid (x 200 to 250, y 0 to 50 mm) do not overlap"],
    ),
    (
        change(more='\n[radiation.r]\nbetween = ["sheet.board", "sheet.board"]\nemissivity = [0.9, 0.9]\n'),
        ["radiation.r.between: sheet.board does not face itself"],
    ),
    (
        change(more='\n[radiation.r]\nbetween = ["sheet.board", "sheet.board"]\nemissivity = [0.9]\n'),
        ["radiation.r.emissivity[2]: missing"],
    ),
    (
        change(more='\n[radiation.r]\nbetween = ["a", "b", "c"]\nemissivity = [0.9, 0.9]\n'),
        ["radiation.r.between: must have 2 items; got 3"],
    ),
    # --- films and edges
    (
        change(('law = "duct"', 'law = "fixed"\nh = "1 W/m2K"\nair = "20 degC"')),
        ["film.top.air: give either air or to"],
    ),
    (
        change(
            more='\n[part.loose]\nwatts = "1 W"\nheat_capacity = "1 J/K"\n'
            '[film.f]\non = "part.loose"\nlaw = "fixed"\nh = "1 W/m2K"\n'
        ),
        ["film.f.on: part.loose has no size for the film to cover"],
    ),
    (
        change(
            more='\n[film.f]\non = "part.fpga"\nlaw = "fixed"\nh = "1 W/m2K"\n'
            'corner = "0, 0 mm"\nsize = "9 x 9 mm"\n'
        ),
        ["film.f.corner: goes with a film on a sheet or plate, not on part.fpga"],
    ),
    (
        change(('corner = "0, 0 mm"\nsize = "100 x 80 mm"\nheight', "height")),
        ["film.top.to: airway.main has no corner, which this film needs",
         "film.top.to: airway.main has no size, which this film needs"],
    ),
    (
        change(more='\n[edge.e]\non = "sheet.board"\nside = "left"\n'),
        ["edge.e: give one of temperature, heat, flux, or h and emissivity"],
    ),
    (
        change(more='\n[edge.e]\non = "sheet.board"\nside = "left"\nheat = "-1 W"\nair = "20 degC"\n'),
        ["edge.e.air: goes with h or emissivity only"],
    ),
    # --- sinks and blocks
    (
        change(more=SINK + PASTE),
        ["sink.s: give a measured resistance with at_flow and exponent, or the fins"],
    ),
    (
        change(more=SINK + 'resistance = "3 K/W"\n' + PASTE),
        ['sink.s.at_flow: missing; a measured resistance needs it, for example at_flow = "0.8 L/min"',
         "sink.s.exponent: missing; a measured resistance needs it"],
    ),
    (
        change(more=SINK + 'resistance = "3 K/W"\nat_flow = "40 m3/h"\nexponent = 0.6\nfins = 9\n' + PASTE),
        ["sink.s.fins: give either a measured resistance or fins, not both",
         'sink.s.base: missing; fins need it, for example base = "140, 90 mm"',
         'sink.s.fin_height: missing; fins need it, for example fin_height = "1.6 mm"',
         'sink.s.fin_thickness: missing; fins need it, for example fin_thickness = "1.6 mm"',
         'sink.s.conductivity: missing; fins need it, for example conductivity = "25 W/mK"'],
    ),
    (
        change(more=SINK + FINS + "fins = 30\n" + PASTE),
        ["sink.s.fins: 30 fins leave no gaps in a base 30 mm wide"],
    ),
    (
        change(more=BLOCK + 'at_flow = "1 L/min"\ndrop = "1 kPa"\n'),
        ["block.b.exponent: missing; at_flow and exponent go together",
         'block.b.drop_at: missing; drop and drop_at go together, for example drop_at = "0.8 L/min"'],
    ),
    # --- loops and their temperatures
    (change((PATH, "[]"), loop=True), ["loop.main.path: is empty"]),
    (
        change((PATH, '["plate.cold", ["radiator.outside", []]]'), loop=True),
        ["loop.main.path[2][2]: is an empty branch"],
    ),
    (
        change(more='\n[hose.h]\nlength = "1 m"\nbore = "4 mm"\nfittings = { elbow = -2 }\n'),
        ["hose.h.fittings.elbow: must be at least 0; got -2"],
    ),
    (
        change(("[room]", '[run]\nstart = "-1 degC"\n[room]'), loop=True),
        ["loop.main.coolant: water freezes at 0.0 °C, and the start is at -1.0 °C"],
    ),
    (
        change(
            more='\n[duty.d]\nof = "room.temperature"\nsine = { mean = "9 degC", amplitude = "95 K", '
            'period = "1 h" }\n',
            loop=True,
        ),
        ["loop.main.coolant: water freezes at 0.0 °C, and the room at its coldest is at -86.0 °C",
         # steam tables: 100.0 °C at one atmosphere
         "loop.main.coolant: water boils at 100.0 °C, and the room at its warmest is at 104.0 °C"],
    ),
    (
        change(('"22 degC"', '"40 degC"\npressure = "5 kPa"'), loop=True),
        # steam tables: 5 kPa, 32.9 °C
        ["loop.main.coolant: water boils at 32.9 °C, and the room is at 40.0 °C"],
    ),
    (
        change(
            ("[fan.pair]", '[airway.cold]\nflow = "40 m3/h"\ninlet = "-3 degC"\n[fan.pair]'),
            ('airway = "main"', 'airway = "cold"'),
            loop=True,
        ),
        ["loop.main.coolant: water freezes at 0.0 °C, and the inlet of airway.cold is at -3.0 °C"],
    ),
    # --- governors, mishaps, duties, must-haves
    (change(more=SWITCH.format(drives="[]") + ABOVE), ["governor.g.drives: drives nothing"]),
    (
        change(more=SWITCH.format(drives='"fan.pair"') + ABOVE + 'max_speed = "90 %"\nstart = "95 %"\n'),
        ["governor.g.start: is outside min_speed to max_speed, 0 % to 90 %"],
    ),
    (
        change(
            more=SWITCH.format(drives='"fan.pair"').replace("switch", "curve")
            + 'curve = ["50 degC, 20 %", "40 degC, 90 %"]\n'
        ),
        ["governor.g.curve: temperatures must rise from point to point"],
    ),
    (
        change(
            more=SWITCH.format(drives='"fan.pair"').replace("switch", "curve") + 'curve = ["50 degC, 20 %"]\n'
        ),
        ["governor.g.curve: needs at least two points"],
    ),
    (
        change(more='\n[mishap.m]\nat = "2 min"\nends = "1 min"\nairlock = "hose.h"\n'),
        ['mishap.m.airlock[1]: there is no hose "h"', "mishap.m.ends: is not after its beginning"],
    ),
    (
        change(more='\n[mishap.m]\nat = "2 min"\nblocks = { "airway.man" = 4 }\n'),
        ['mishap.m.blocks.man: there is no airway "man"; did you mean "airway.main"?'],
    ),
    (change(more='\n[duty.d]\nof = "part.fpga.watts"\n'), ["duty.d: give either points or a sine"]),
    (
        change(more='\n[duty.d]\nof = "part.cpu.watts"\npoints = ["0 s, 1 W"]\n'),
        ['duty.d.of: there is no part "cpu"; did you mean "part.fpga"?'],
    ),
    (
        change(more='\n[duty.d]\nof = "state"\nsine = { mean = "1 W", amplitude = "1 W", period = "1 s" }\n'),
        ["duty.d.sine: the operating state has no sine"],
    ),
    (
        change(more='\n[duty.d]\nof = "state"\npoints = ["0 s work"]\n'),
        ['duty.d.points: point 1: expected a pair, for example "10 min, work"'],
    ),
    (
        change(more='\n[duty.d]\nof = "part.fpga.watts"\npoints = []\n'),
        ["duty.d.points: needs at least one point"],
    ),
    (
        change(more='\n[duty.d]\nof = "part.fpga.watts"\npoints = ["0 s, 1 W", "9 s, 1 W"]\n'
               'repeat = "8 s"\n'),
        ["duty.d.repeat: comes before the last point"],
    ),
    (
        change(
            more='\n[duty.d]\nof = "part.fpga.watts"\npoints = ["0 s, 1 W"]\n'
            '[duty.e]\nof = "part.fpga.watts"\npoints = ["0 s, 1 W"]\n'
        ),
        ["duty.e.of: duty.d moves part.fpga.watts already"],
    ),
    (
        change(more='\n[duty.d]\nof = "film.top.air"\npoints = ["0 s, 20 degC"]\n'),
        ["duty.d.of: film.top has no air temperature to change"],
    ),
    (
        change(more='\n[must_have.m]\nof = "part.fpgas"\nat_most = "9 degC"\n'
            '[must_have.o]\nof = "silence"\nat_most = "9 degC"\n[must_have.n]\nof = "noise"\n'),
        ['must_have.m.of: there is no part "fpgas"; did you mean "part.fpga"?',
         'must_have.o.of: "silence" is not an address; expected part.name or probe.name, or one of "noise", '
         '"dew margin", "warm-up", "height", "mass"',
         "must_have.n: give at_most or at_least"],
    ),
    # --- options
    (
        change(("[case]", "option = 3\n[case]")),
        ["option: must be a table of named options"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("edits", "expected"), FOUND, ids=[found[1][0].split(":")[0] for found in FOUND])
def test_findings(edits, expected, changed):
    pairs, more = edits
    with pytest.raises(CaseError) as caught:
        Case.from_text(changed(*pairs, **more))
    assert sorted(f"{problem.key}: {problem.message}" for problem in caught.value.problems) == sorted(expected)


@pytest.mark.parametrize(
    ("option", "message"),
    [
        ('remove = ["part.fpga.limit"]', "option.a.remove[1]: there is no part.fpga.limit to remove"),
        ('add = { sheet = 3 }', "option.a.add.sheet: must be a table of named sheet tables"),
    ],
)  # fmt: skip
def test_options_that_do_not_fit(option, message, changed):
    with pytest.raises(CaseError, match=message.replace("[", r"\[")):
        Case.from_text(changed(more=f"\n[option.a]\n{option}\n"), option="a")


def test_finned_sink_is_sound(changed):
    case = Case.from_text(changed(more=SINK + FINS + "fins = 10\n" + PASTE))
    assert case.spec.sink["s"].fins == 10

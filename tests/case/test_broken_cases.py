"""Broken case files, each with the exact lines the user reads. The rules are the program's own contract."""

import pytest

from thermsim.case import Case, CaseError, load_case

GOVERNOR = '\n[governor.g]\nsensor = "part.fpga"\ndrives = "fan.pair"\n'
BOX = '\n[box]\ncorner = "0, 0 mm"\nsize = "100 x 80 x 60 mm"\nthickness = "1 mm"\nmaterial = "copper"\n'
FITS = "x 30 to 70, y 20 to 60 mm"
CHANNEL = '"40, 60 mm"]'
ON = 'on = "sheet.board"\ncentre'


def change(*pairs: tuple[str, str], **more):
    """What to do to the base case, for the `changed` fixture."""
    return pairs, more


BROKEN = {
    # --- keys, types, units, ranges
    "misspelt key": (
        change(('watts = "12 W"', 'wats = "12 W"')),
        'case.toml:18: part.fpga.wats: unknown key; did you mean "watts"?',
    ),
    "misspelt table": (
        change(("[fan.pair]", "[fans.pair]")),
        'case.toml:22: fans: unknown table; did you mean "fan"?',
    ),
    "two mistakes": (
        change(('"12 W"', '"35 mm"'), ('"1.6 mm"', '"-1.6 mm"')),
        'case.toml:10: sheet.board.thickness: must be above 0; got "-1.6 mm"\n'
        "case.toml:18: part.fpga.watts: '35 mm' is a length; expected a power, for example \"35 W\"",
    ),
    "no unit": (
        change(('"12 W"', "12")),
        'case.toml:18: part.fpga.watts: needs a unit, for example "35 W"',
    ),
    "missing watts": (
        change(('watts = "12 W"\n', "")),
        'case.toml:14: part.fpga.watts: missing; for example watts = "35 W"',
    ),
    "negative size": (
        change(('"30 x 30 mm"', '"30 x -30 mm"')),
        'case.toml:17: part.fpga.size: must be above 0; got "30 x -30 mm"',
    ),
    "speed too high": (
        change(("[fan.pair]", '[fan.pair]\nspeed = "200 %"')),
        'case.toml:23: fan.pair.speed: must be at most 150 %; got "200 %"',
    ),
    "unknown law": (
        change(('law = "duct"', 'law = "ducted"')),
        "case.toml:35: film.top.law: must be 'fixed', 'scaled', 'natural', 'duct' or 'plate'; got \"ducted\"",
    ),
    "truth value for a number": (
        change(('height = "60 mm"', 'height = "60 mm"\nsegments = true')),
        "case.toml:29: airway.main.segments: must be a whole number; got true",
    ),
    "fraction for a count": (
        change(('height = "60 mm"', 'height = "60 mm"\nsegments = 2.5')),
        "case.toml:29: airway.main.segments: must be a whole number; got 2.5",
    ),
    "number for a list": (
        change(('["fan.pair"]', "3")),
        "case.toml:29: airway.main.fans: must be a list; got 3",
    ),
    "number for text": (
        change(('"A board in a box"', "7")),
        "case.toml:2: case.title: must be text; got 7",
    ),
    "text for a number": (
        change(('law = "duct"', 'law = "scaled"\nh = "3 W/m2K"\nat_flow = "1 m3/h"\nexponent = "0.5"')),
        'case.toml:38: film.top.exponent: must be a number; got "0.5"',
    ),
    "value for a table": (
        change(more="\n[probe]\np = 3\n"),
        "case.toml:38: probe.p: must be a table; got 3",
    ),
    "not a number": (
        change(('"12 W"', "nan")),
        "case.toml:18: part.fpga.watts: nan is not a finite number",
    ),
    "not a number, as text": (
        change(('"12 W"', '"nan W"')),
        "case.toml:18: part.fpga.watts: 'nan W' is not a finite number",
    ),
    "date": (
        change(('"22 degC"', "1979-05-27")),
        "case.toml:5: room.temperature: 1979-05-27 is a date; expected text or a number",
    ),
    "watts of one state": (
        change(('"12 W"', '{ idle = "1 W", work = "3 mm" }')),
        "case.toml:18: part.fpga.watts.work: '3 mm' is a length; expected a power, for example \"35 W\"",
    ),
    "pair of a curve": (
        change(('"10 m3/h, 30 Pa"', '"10 m3/h, 30 W"')),
        "case.toml:23: fan.pair.curve: point 2: '30 W' is a power; expected a pressure, for example \"38 Pa\"",
    ),
    "a layer": (
        change(
            (
                'conductivity = "25 W/mK"\nheat_density = "2.0 MJ/m3K"\n',
                'layers = [\n  { thickness = "35 um", copper = "90 %" },\n'
                '  { thickness = "35 um", copper = "110 %" },\n  { thickness = "35 um" },\n]\n',
            )
        ),
        'case.toml:13: sheet.board.layers[2].copper: must be at most 100 %; got "110 %"\n'
        'case.toml:14: sheet.board.layers[3].copper: missing; for example copper = "45 %"',
    ),
    # --- the text itself
    "list left open": (
        change(('["fan.pair"]', '["fan.pair"')),
        "case.toml:30: not TOML: unclosed array",
    ),
    "table twice": (
        change(more='\n[part.fpga]\nwatts = "1 W"\n'),
        "case.toml:37: part.fpga: given twice, first on line 14",
    ),
    "key twice": (
        change(('watts = "12 W"', 'watts = "12 W"\nwatts = "13 W"')),
        "case.toml:19: part.fpga.watts: given twice, first on line 18",
    ),
    "name with a path in it": (
        change(("[fan.pair]", '[fan."../pair"]'), ("fan.pair", "fan.../pair")),
        'case.toml:22: fan."../pair": is no usable name: up to 61 letters a to z, digits, spaces and '
        "_ . , % ° + -, a letter or digit first",
    ),
    # --- references
    "unknown reference": (
        change((ON, 'on = "sheet.bord"\ncentre')),
        'case.toml:15: part.fpga.on: there is no sheet "bord"; did you mean "sheet.board"?',
    ),
    "reference without its kind": (
        change((ON, 'on = "board"\ncentre')),
        'case.toml:15: part.fpga.on: "board" is not an address; expected sheet.name or plate.name; '
        'did you mean "sheet.board"?',
    ),
    "reference of the wrong kind": (
        change((ON, 'on = "fan.pair"\ncentre')),
        'case.toml:15: part.fpga.on: "fan.pair" is a fan; expected sheet.name or plate.name',
    ),
    "unknown airway of a sink": (
        change(
            more='\n[sink.s]\non = "part.fpga"\nairway = "man"\nresistance = "3 K/W"\nat_flow = "40 m3/h"\n'
            'exponent = 0.6\n[joint.j]\nbetween = ["part.fpga", "sink.s"]\nresistance = "0.1 K/W"\n'
        ),
        'case.toml:39: sink.s.airway: there is no airway "man"; did you mean "airway.main"?',
    ),
    "loop without pump": (
        change(('[pump.small]\ncurve = ["0 L/min, 40 kPa", "2 L/min, 0 kPa"]\n', ""), loop=True),
        'case.toml:59: loop.main.pump: there is no pump "small"',
    ),
    "governor reading no sensor": (
        change(
            more=GOVERNOR.replace("part.fpga", "part.cpu")
            + 'law = "hold"\nset_point = "60 degC"\ngain = "5 %/K"\nreset = "60 s"\n',
        ),
        'case.toml:38: governor.g.sensor: there is no part "cpu"; did you mean "part.fpga"?',
    ),
    "unknown material": (
        change(('"aluminium 6061"', '"aluminum 6061"'), loop=True),
        'case.toml:41: plate.cold.material: unknown material "aluminum 6061"; did you mean "aluminium 6061"?',
    ),
    "unknown fitting": (
        change(more='\n[hose.h]\nlength = "1 m"\nbore = "4 mm"\nfittings = { elbo = 2 }\n'),
        'case.toml:40: hose.h.fittings.elbo: unknown fitting "elbo"; did you mean "elbow"?',
    ),
    "mishap to something unknown": (
        change(more='\n[mishap.m]\nat = "1 min"\nstops = "fan.pear"\n'),
        'case.toml:39: mishap.m.stops[1]: there is no fan "pear"; did you mean "fan.pair"?',
    ),
    "duty of something that stays": (
        change(more='\n[duty.d]\nof = "part.fpga.limit"\npoints = ["0 s, 1 W"]\n'),
        'case.toml:38: duty.d.of: "part.fpga.limit" does not change with time; expected state, '
        "room.temperature, part.name.watts, source.name.watts, airway.name.inlet, film.name.air or "
        "edge.name.temperature",
    ),
    "duty of an inlet that is the room": (
        change(more='\n[duty.d]\nof = "airway.main.inlet"\npoints = ["0 s, 20 degC"]\n'),
        "case.toml:38: duty.d.of: airway.main takes its air from room; give it an inlet temperature first",
    ),
    "must-have of something unknown": (
        change(more='\n[must_have.m]\nof = "nois"\nat_most = "20 dB(A)"\n'),
        'case.toml:38: must_have.m.of: "nois" is not an address; expected part.name or probe.name; '
        'did you mean "noise"?',
    ),
    # --- geometry
    "part off its sheet": (
        change(('"50, 40 mm"', '"90, 40 mm"')),
        "case.toml:16: part.fpga.centre: the part covers x 75 to 105, y 25 to 55 mm: not on sheet.board, "
        "x 0 to 100, y 0 to 80 mm",
    ),
    "part over a cutout": (
        change(more='\n[sheet.board.cutout.hole]\ncorner = "50, 40 mm"\nsize = "5 x 5 mm"\n'),
        'case.toml:16: part.fpga.centre: the part lies over cutout "hole" of sheet.board',
    ),
    "parts over one another": (
        change(
            more='\n[part.b]\non = "sheet.board"\ncentre = "60, 40 mm"\nsize = "9 x 9 mm"\nwatts = "1 W"\n'
            'to_board = "1 K/W"\nheat_capacity = "1 J/K"\n'
        ),
        "case.toml:39: part.b.centre: the part overlaps part.fpga on the top of sheet.board",
    ),
    "patch outside its sheet": (
        change(more='\n[sheet.board.patch.p]\ncorner = "90, 0 mm"\nsize = "20 x 20 mm"\nmaterial = "copper"\n'),
        "case.toml:37: sheet.board.patch.p: x 90 to 110, y 0 to 20 mm is not inside the sheet, "
        "x 0 to 100, y 0 to 80 mm",
    ),
    "channel leaving its plate": (
        change((CHANNEL, '"40, 59 mm", "60, 59 mm"]'), loop=True),
        "case.toml:42: plate.cold.channel.path[2]: the channel leaves the plate: 40, 59 mm is not half its "
        f"width, 1.5 mm, inside {FITS}\n"
        "case.toml:42: plate.cold.channel.path[3]: the channel leaves the plate: 60, 59 mm is not half its "
        f"width, 1.5 mm, inside {FITS}",
    ),
    "channel standing still": (
        change((CHANNEL, '"40, 60 mm", "40, 60 mm"]'), loop=True),
        "case.toml:42: plate.cold.channel.path[3]: is the same point as the one before it",
    ),
    "channel through the plate": (
        change(('depth = "3 mm"', 'depth = "9 mm"'), loop=True),
        "case.toml:42: plate.cold.channel.depth: is not less than the plate's thickness, 8 mm",
    ),
    "joint without overlap": (
        change(
            ('corner = "30, 20 mm"', 'corner = "230, 20 mm"'),
            ('["40, 20 mm", "40, 60 mm"]', '["240, 20 mm", "240, 60 mm"]'),
            loop=True,
        ),
        "case.toml:45: joint.pad.between: part.fpga (x 35 to 65, y 25 to 55 mm) and "
        "plate.cold (x 230 to 270, y 20 to 60 mm) do not overlap",
    ),
    "joint region outside": (
        change(
            ('resistance = "0.3 K/W"', 'resistance = "0.3 K/W"\ncorner = "0, 0 mm"\nsize = "5 x 5 mm"'),
            loop=True,
        ),
        "case.toml:47: joint.pad.corner: x 0 to 5, y 0 to 5 mm is not inside what both ends cover, "
        "x 35 to 65, y 25 to 55 mm",
    ),
    "probe beside the sheet": (
        change(more='\n[probe.p]\non = "sheet.board"\nat = "101, 0 mm"\n'),
        "case.toml:39: probe.p.at: is not on sheet.board, x 0 to 100, y 0 to 80 mm",
    ),
    "source in a cutout": (
        change(
            more='\n[sheet.board.cutout.slot]\ncorner = "10, 10 mm"\nsize = "10 x 10 mm"\n'
            '[source.s]\non = "sheet.board"\nwatts = "1 W"\ncorner = "12, 12 mm"\nsize = "5 x 5 mm"\n'
        ),
        'case.toml:43: source.s.corner: x 12 to 17, y 12 to 17 mm lies wholly in cutout "slot" of sheet.board',
    ),
    "stretch beyond the rim": (
        change(more='\n[edge.e]\non = "sheet.board"\nside = "left"\nheat = "3 W"\nstretch = "10, 100 mm"\n'),
        "case.toml:41: edge.e.stretch: must go upwards within y 0 to 80 mm",
    ),
    # --- things stated twice, or not at all
    "part without place": (
        change(('size = "30 x 30 mm"\nwatts', "watts"), ('to_board = "1.5 K/W"\n', "")),
        "case.toml:14: part.fpga.size: missing; a part on sheet.board needs it, "
        'for example size = "140, 90 mm"\n'
        "case.toml:14: part.fpga.to_board: missing; a part on sheet.board needs it, "
        'for example to_board = "1.5 K/W"',
    ),
    "part that cannot lose its heat": (
        change((ON, "centre"), ('to_board = "1.5 K/W"\n', "")),
        "case.toml:14: part.fpga: its heat has no way out: put it on a sheet, or give it a joint, a film or "
        "a heat pipe",
    ),
    "joint in two ways": (
        change(('resistance = "0.3 K/W"', 'resistance = "0.3 K/W"\nconductance = "3 W/m2K"'), loop=True),
        "case.toml:47: joint.pad.conductance: give only one of resistance, conductance",
    ),
    "joint in no way": (
        change(('resistance = "0.3 K/W"\n', ""), loop=True),
        "case.toml:44: joint.pad: give one of resistance, resistivity, conductance, bond_line",
    ),
    "bond line of nothing": (
        change(('resistance = "0.3 K/W"', 'bond_line = "0.1 mm"'), loop=True),
        'case.toml:44: joint.pad.conductivity: missing; a bond line needs it, for example conductivity = "25 W/mK"',
    ),
    "film with half its law": (
        change(('law = "duct"', 'law = "scaled"\nh = "3 W/m2K"\norientation = "up"')),
        'case.toml:32: film.top.at_flow: missing; law "scaled" needs it, for example at_flow = "0.8 L/min"\n'
        'case.toml:32: film.top.exponent: missing; law "scaled" needs it\n'
        'case.toml:37: film.top.orientation: law "scaled" does not use it',
    ),
    "forced film to the room": (
        change(('to = "airway.main"\n', "")),
        'case.toml:32: film.top.to: law "duct" needs an airway, for example to = "airway.main"',
    ),
    "natural film without finish": (
        change(('to = "airway.main"\nlaw = "duct"', 'law = "natural"\norientation = "up"\nlength = "22 mm"')),
        "case.toml:32: film.top.emissivity: missing; how does the finish radiate? 0.9 if painted, "
        "0.07 if bare aluminium, 0 if not at all",
    ),
    "passage without height": (
        change(('height = "60 mm"\n', "")),
        "case.toml:33: film.top.to: airway.main has no height, which this film needs",
    ),
    "sheet of nothing": (
        change(('conductivity = "25 W/mK"\nheat_density = "2.0 MJ/m3K"\n', "")),
        "case.toml:7: sheet.board: give one of material, layers, conductivity",
    ),
    "sheet without heat capacity": (
        change(('heat_density = "2.0 MJ/m3K"\n', "")),
        "case.toml:7: sheet.board.heat_density: missing; with conductivity, give heat_density or "
        'heat_capacity, for example heat_density = "2.0 MJ/m3K"',
    ),
    "edge in two ways": (
        change(more='\n[edge.e]\non = "sheet.board"\nside = "left"\ntemperature = "20 degC"\nheat = "3 W"\n'),
        "case.toml:41: edge.e.heat: give only one of temperature, heat",
    ),
    "sink without joint": (
        change(
            more='\n[sink.s]\non = "part.fpga"\nairway = "main"\nresistance = "3 K/W"\nat_flow = "40 m3/h"\n'
            "exponent = 0.6\n"
        ),
        'case.toml:37: sink.s: no joint holds it to part.fpga; add one with between = ["part.fpga", "sink.s"]',
    ),
    "fans against nothing": (
        change(('resistance = "0.012 Pa/(m3/h)2"\n', "")),
        "case.toml:25: airway.main.resistance: missing; with fans, give a resistance, a filter or openings, "
        'for example resistance = "0.012 Pa/(m3/h)2"',
    ),
    "air that does not move": (
        change(more="\n[airway.still]\n"),
        "case.toml:37: airway.still: nothing moves its air: give fans, a flow or a draught",
    ),
    "measured element without drop": (
        change(('drop = "1.9 kPa"\ndrop_at = "0.58 L/min"\n', ""), loop=True),
        'case.toml:51: radiator.outside.drop: missing; its pressure drop at a flow, for example drop = "2 kPa"',
    ),
    "pressure and altitude": (
        change(('"22 degC"', '"22 degC"\npressure = "1 bar"\naltitude = "10 m"')),
        "case.toml:7: room.altitude: give either pressure or altitude",
    ),
    # --- can it work
    "fan curve not falling": (
        change(('"10 m3/h, 30 Pa"', '"10 m3/h, 40 Pa"')),
        "case.toml:23: fan.pair.curve: fan curve does not fall: 38 Pa at 0 m³/h, then 40 Pa at 10 m³/h",
    ),
    "pump curve out of order": (
        change(('"2 L/min, 0 kPa"', '"2 L/min, 10 kPa", "1.5 L/min, 0 kPa"'), loop=True),
        "case.toml:49: pump.small.curve: pump curve: flows must rise from point to point; "
        "1.5 L/min comes after 2 L/min",
    ),
    "curve of one point": (
        change(('"0 m3/h, 38 Pa", "10 m3/h, 30 Pa", ', "")),
        "case.toml:23: fan.pair.curve: a fan curve needs at least two points",
    ),
    "coolant below freezing": (
        change(('"22 degC"', '"-5 degC"'), loop=True),
        "case.toml:62: loop.main.coolant: water freezes at 0.0 °C, and the room is at -5.0 °C",
    ),
    "coolant above boiling": (  # 93.3 °C at 2000 m: ICAO atmosphere 79.5 kPa and the steam tables
        change(('"22 degC"', '"99.5 degC"\naltitude = "2000 m"'), loop=True),
        "case.toml:63: loop.main.coolant: water boils at 93.3 °C, and the room is at 99.5 °C",
    ),
    "glycol without fraction": (
        change(('"water"', '"ethylene glycol"'), loop=True),
        'case.toml:60: loop.main.fraction: missing; how much glycol, for example fraction = "30 %"',
    ),
    "too much glycol": (
        change(('"water"', '"ethylene glycol"\nfraction = "90 %"'), loop=True),
        "case.toml:63: loop.main.fraction: ethylene glycol: mass fraction 0.9 is outside 0 to 0.6",
    ),
    "element twice in a loop": (
        change(
            ('["plate.cold", "radiator.outside"]', '["plate.cold", "radiator.outside", "plate.cold"]'),
            loop=True,
        ),
        "case.toml:63: loop.main.path[3]: plate.cold is used twice; each plate stands for itself only",
    ),
    "one branch": (
        change(('["plate.cold", "radiator.outside"]', '[["plate.cold"], "radiator.outside"]'), loop=True),
        "case.toml:63: loop.main.path[1]: branches side by side are at least two",
    ),
    "number in a loop": (
        change(('["plate.cold", "radiator.outside"]', '["plate.cold", 3]'), loop=True),
        "case.toml:63: loop.main.path[2]: is neither an element nor a list of branches",
    ),
    "fan in two airways": (
        change(more='\n[airway.b]\nfans = ["fan.pair"]\nflow = "3 m3/h"\n'),
        "case.toml:38: airway.b.fans[1]: fan.pair is used twice; each fan stands for itself only",
    ),
    "airways in a circle": (
        change(more='\n[airway.b]\nflow = "3 m3/h"\ninlet = "airway.b"\n'),
        "case.toml:39: airway.b.inlet: airways feed each other in a circle: b ← b",
    ),
    # --- governors, duties, mishaps
    "governor with another's keys": (
        change(
            more=GOVERNOR
            + 'law = "hold"\ngain = "5 %/K"\nreset = "60 s"\ncurve = ["20 degC, 20 %", "60 degC, 100 %"]\n',
        ),
        'case.toml:37: governor.g.set_point: missing; law "hold" needs it, '
        'for example set_point = "23 degC"\n'
        'case.toml:43: governor.g.curve: law "hold" does not use it',
    ),
    "governor with speeds crossed": (
        change(
            more=GOVERNOR + 'law = "switch"\non_above = "50 degC"\noff_below = "55 degC"\nmin_speed = "60 %"\n'
            'max_speed = "40 %"\n',
        ),
        "case.toml:42: governor.g.off_below: is not below on_above, 50.0 °C\n"
        "case.toml:43: governor.g.min_speed: is above max_speed, 40 %",
    ),
    "two governors of one fan": (
        change(
            more=GOVERNOR
            + 'law = "switch"\non_above = "50 degC"\noff_below = "45 degC"\n'
            + GOVERNOR.replace("governor.g", "governor.h")
            + 'law = "switch"\non_above = "50 degC"\noff_below = "45 degC"\n',
        ),
        "case.toml:46: governor.h.drives[1]: fan.pair is driven by governor.g already",
    ),
    "state that a part does not know": (
        change(
            ('"12 W"', '{ idle = "1 W", work = "3 W" }'),
            more='\n[duty.d]\nof = "state"\npoints = ["0 s, idle", "10 s, wrk"]\n',
        ),
        'case.toml:39: duty.d.points[2]: part.fpga has no watts for state "wrk"; did you mean "work"?',
    ),
    "run in a state without watts": (
        change(('"12 W"', '{ idle = "1 W", play = "3 W" }'), ("[room]", '[run]\nstate = "work"\n[room]')),
        'case.toml:5: run.state: part.fpga has no watts for state "work"; it has idle, play',
    ),
    "duty in the wrong unit": (
        change(more='\n[duty.d]\nof = "part.fpga.watts"\npoints = ["0 s, 1 W", "10 s, 3 mm"]\n'),
        "case.toml:39: duty.d.points: point 2: '3 mm' is a length; expected a power, for example \"35 W\"",
    ),
    "duty going back in time": (
        change(more='\n[duty.d]\nof = "part.fpga.watts"\npoints = ["9 s, 1 W", "8 s, 3 W"]\n'),
        "case.toml:39: duty.d.points: times must rise from point to point, from 0 or later",
    ),
    "watts swinging below zero": (
        change(
            more='\n[duty.d]\nof = "part.fpga.watts"\nsine = { mean = "1 W", amplitude = "2 W", period = "60 s" }\n'
        ),
        "case.toml:39: duty.d.sine: watts fall below zero",
    ),
    "must-have in the wrong unit": (
        change(more='\n[must_have.m]\nof = "noise"\nat_most = "20 degC"\n'),
        "case.toml:39: must_have.m.at_most: '20 degC' is a temperature; expected a level, for example \"29 dB(A)\"",
    ),
    "mishap of nothing": (
        change(more='\n[mishap.m]\nat = "1 min"\n'),
        "case.toml:37: mishap.m: nothing happens: give stops, blocks, airlock, coolant_lost or room_rise",
    ),
    # --- the box
    "box with a misspelt key": (
        change(more=BOX.replace("thickness", "thicknes") + 'outside = { law = "fixed", h = "9 W/m2K" }\n'),
        'case.toml:40: box.thicknes: unknown key; did you mean "thickness"?',
    ),
    "box with half a law": (
        change(more=BOX + 'outside = { law = "fixed" }\n'),
        'case.toml:42: box.outside.h: missing; law "fixed" needs it, for example h = "9 W/m2K"',
    ),
    "box of nothing known": (
        change(more=BOX.replace("copper", "coper") + 'outside = { law = "fixed", h = "9 W/m2K" }\n'),
        'case.toml:41: box.material: unknown material "coper"; did you mean "copper"?',
    ),
    "lid made twice": (
        change(
            more=BOX + 'outside = { law = "fixed", h = "9 W/m2K" }\n[sheet.lid]\ncorner = "0, 0 mm"\n'
            'size = "9 x 9 mm"\nthickness = "1 mm"\nmaterial = "copper"\n'
        ),
        "case.toml:43: sheet.lid: [box] makes sheet.lid itself; give this one another name",
    ),
    "box that is told what it works out": (
        change(more=BOX + 'outside = { law = "natural", emissivity = 0.9, orientation = "up" }\n'),
        "case.toml:42: box.outside.orientation: is worked out from the box; leave it out",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_case(name, changed):
    (pairs, more), expected = BROKEN[name]
    text = changed(*pairs, **more)
    with pytest.raises(CaseError) as caught:
        Case.from_text(text, "case.toml")
    assert str(caught.value) == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "case.toml: is empty"),
        (" \n\n", "case.toml: is empty"),
        ("hello there", "case.toml:1: not TOML: expected '=' after a key in a key/value pair"),
    ],
)
def test_texts_that_are_no_case(text, message):
    with pytest.raises(CaseError) as caught:
        Case.from_text(text, "case.toml")
    assert str(caught.value) == message


def failure(path, **how):
    with pytest.raises(CaseError) as caught:
        load_case(path, **how)
    return str(caught.value)


def test_files_that_are_no_case(tmp_path):
    large = tmp_path / "large.toml"
    with large.open("wb") as file:
        file.truncate(50_000_000)  # sparse
    latin = tmp_path / "latin.toml"
    latin.write_bytes('title = "Gehäuse"'.encode("latin-1"))
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\x00\x01\x02")
    assert failure(tmp_path) == f"{tmp_path}: is a folder without a case.toml"
    assert failure(tmp_path / "no.toml") == f"{tmp_path / 'no.toml'}: no such file"
    assert failure(large) == "large.toml: is larger than 5 MB; not a case file"
    assert failure(latin) == "latin.toml: is not UTF-8 text (byte 13)"
    assert failure(binary).startswith("binary.toml:1: not TOML: ")


@pytest.mark.parametrize("depth", [40, 400, 5000])
def test_text_nested_too_deeply_is_refused(depth):
    for text in (f"a = {'[' * depth}{']' * depth}", f"a = {'{a=' * depth}1{'}' * depth}"):
        with pytest.raises(CaseError, match="nested too deeply"):
            Case.from_text(text, "case.toml")


def test_long_values_are_cut_short(changed):
    with pytest.raises(CaseError) as caught:
        Case.from_text(changed(('"A board in a box"', str([1] * 1000))), "case.toml")
    assert str(caught.value) == f"case.toml:2: case.title: must be text; got {str([1] * 1000)[:60]}…"

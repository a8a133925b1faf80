"""Cases that are sound: what is read, options, changes, the box, and building a case again from itself."""

import json
import sys
import tomllib
from dataclasses import FrozenInstanceError
from subprocess import run
from typing import get_args

import pytest

from thermsim.case import Case, CaseError, check_all_options, load_case
from thermsim.case.duties import duty_points, duty_values, must_have_limits
from thermsim.case.lines import dotted, key_lines, split_address
from thermsim.case.materials import library, material
from thermsim.case.options import read_change
from thermsim.case.running import Criterion
from thermsim.solve.settle import CRITERIA

OPTIONS = """
[option.fast]
set = { "fan.pair.speed" = "120 %" }

[option.hot]
base = "fast"
remove = ["film.top"]
set."part.*".watts = "20 W"
mishaps = ["stop"]

[option.hot.add.film.top]
on = "sheet.board"
law = "fixed"
h = "9 W/m2K"

[option."hot, no. 2"]
base = "hot"
set.room.temperature = "30 degC"
set.fan.pair.speed = "90 %"
set.sheet.board.patch.slug = { corner = "0, 0 mm", size = "5 x 5 mm", material = "copper" }

[mishap.stop]
at = "1 min"
stops = ["fan.pair"]
"""
BOX = """
[box]
corner = "-20, -20 mm"
size = "320 x 220 x 66 mm"
thickness = "2 mm"
material = "Aluminium-6061"

[box.outside]
law = "natural"
emissivity = 0.8

[box.inside]
law = "fixed"
h = "5 W/m2K"
to = "airway.main"
"""


def failure(text, **how):
    with pytest.raises(CaseError) as caught:
        Case.from_text(text, "case.toml", **how)
    return str(caught.value)


def test_values_are_si(changed):
    spec = Case.from_text(changed(loop=True)).spec
    assert spec.part["fpga"].watts == 12.0
    assert spec.part["fpga"].centre == pytest.approx((0.05, 0.04))
    assert spec.fan["pair"].curve[1] == pytest.approx((10 / 3600, 30.0))
    assert spec.airway["main"].resistance == pytest.approx(0.012 * 3600**2)
    assert spec.sheet["board"].heat_density == pytest.approx(2.0e6)
    assert spec.plate["cold"].channel.path == ((0.04, 0.02), (0.04, 0.06))
    assert spec.room.temperature == 22.0


def test_watts_by_state_inlets_and_bare_airway_names(changed):
    text = changed(
        ('"12 W"', '{ idle = "1 W", work = "12 W" }'),
        ('airway = "main"', 'airway = "airway.second"'),
        more='\n[airway.second]\nflow = "40 m3/h"\ninlet = "airway.third"\n'
        '[airway.third]\nflow = "40 m3/h"\ninlet = "296.15 K"\n',
        loop=True,
    )
    spec = Case.from_text(text).spec
    assert spec.part["fpga"].watts == {"idle": 1.0, "work": 12.0}
    assert spec.radiator["outside"].airway == "second"
    assert spec.airway["second"].inlet == "airway.third"
    assert spec.airway["third"].inlet == pytest.approx(23.0)
    assert spec.airway["main"].inlet == "room"


def test_an_option_sets_removes_and_adds(changed):
    case = Case.from_text(changed(more=OPTIONS))
    assert case.options == ("fast", "hot", "hot, no. 2")
    assert case.option is None
    assert case.spec.fan["pair"].speed == 1.0
    assert case.with_option("fast").spec.fan["pair"].speed == pytest.approx(1.2)
    hot = case.with_option("hot")
    assert hot.spec.fan["pair"].speed == pytest.approx(1.2)
    assert hot.spec.part["fpga"].watts == 20.0
    assert hot.spec.film["top"].law == "fixed"
    assert hot.mishaps == ("stop",)
    hotter = hot.with_option("hot, no. 2")
    assert hotter.spec.room.temperature == 30.0
    assert hotter.spec.fan["pair"].speed == pytest.approx(0.9)
    assert hotter.spec.sheet["board"].patch["slug"].material == "copper"
    assert hotter.mishaps == ("stop",)
    assert case.spec.part["fpga"].watts == 12.0
    assert check_all_options(case) == []


def test_changes_come_after_the_option(changed, tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(changed(more=OPTIONS), encoding="utf-8")
    case = load_case(tmp_path, "hot", {"part.fpga.watts": "7 W"})
    assert case.path == tmp_path
    assert case.spec.part["fpga"].watts == 7.0
    assert load_case(path, "hot", ['part.fpga.watts="8 W"', "run.state=idle"]).spec.run.state == "idle"
    assert case.with_changes({"fan.pair.count": 2}).spec.fan["pair"].count == 2
    assert case.with_changes({"fan.pair.count": 2}).with_option("fast").spec.part["fpga"].watts == 7.0
    states = case.with_changes({"part.fpga.watts": {"idle": "1 W", "work": "2 W"}})
    assert states.spec.part["fpga"].watts == {"idle": 1.0, "work": 2.0}


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ('part.fpga.watts="20 W"', ("part.fpga.watts", "20 W")),
        ("part.fpga.watts = 20 W", ("part.fpga.watts", "20 W")),
        ("fan.pair.count=2", ("fan.pair.count", 2)),
        ('part."a=b".watts=20 W', ('part."a=b".watts', "20 W")),
        ('airway.main.fans=["fan.a", "fan.b"]', ("airway.main.fans", ["fan.a", "fan.b"])),
    ],
)
def test_reading_a_change(text, change):
    assert read_change(text) == change


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ("part.fpga.wats=20 W", '--set: part.fpga.wats: unknown key "wats"; did you mean "watts"?'),
        ("part.fgpa.watts=20 W", '--set: part.fgpa.watts: unknown part "fgpa"; did you mean "fpga"?'),
        ("prt.fpga.watts=20 W", '--set: prt.fpga.watts: unknown table "prt"; did you mean "part"?'),
        ("part.fpga.watts.a.b=20 W", '--set: part.fpga.watts.a.b: unknown key "b"'),
        ("part.fpga=20 W", "--set: part.fpga: part.fpga is a whole table; set one of its keys"),
        ("part.c*.watts=20 W", '--set: part.c*.watts: no part matches "c*"'),
        ("part..watts=2 W", '--set: part..watts: "part..watts" is not an address such as part.fpga.watts'),
        (
            "part.fpga.watts",
            '--set: part.fpga.watts: expected address=value, for example part.fpga.watts="20 W"',
        ),
        (
            "part.fpga.watts=20 mm",
            "--set: part.fpga.watts: '20 mm' is a length; expected a power, for example \"35 W\"",
        ),
        ("part.fpga.watts=nan", "--set: part.fpga.watts: nan is not a finite number"),
        ("box.thickness=2 mm", "--set: box.thickness: there is no [box] in this case"),
        ("run.cel=2 mm", '--set: run.cel: unknown key "cel"; did you mean "cell"?'),
        ("option.a.note=x", "--set: option.a.note: options are changed in the file"),
    ],
)
def test_changes_that_cannot_be_made(change, message, changed):
    assert failure(changed(), changes=[change]) == message


@pytest.mark.parametrize(
    ("option", "name", "message"),
    [
        (
            '[option.a]\nbase = "b"\n[option.b]\nbase = "a"\n',
            "a",
            "case.toml:40: option.b.base: options are based on each other in a circle: a → b → a",
        ),
        (
            '[option.a]\nbase = "b"\n',
            "a",
            'case.toml:38: option.a.base: unknown option "b"',
        ),
        ("[option.air]\n", "airr", 'case.toml:37: option: unknown option "airr"; did you mean "air"?'),
        (
            '[option.a]\nremov = ["film.top"]\n',
            None,
            'case.toml:38: option.a.remov: unknown key; did you mean "remove"?',
        ),
        (
            '[option.a]\nremove = ["fan.pair", "part.fpgaa"]\n',
            "a",
            'case.toml:38: option.a.remove[2]: unknown part "fpgaa"; did you mean "fpga"?',
        ),
        (
            '[option.a]\nremove = ["fan.pair"]\n',
            "a",
            'case.toml:29: airway.main.fans[1]: there is no fan "pair"',
        ),
        (
            '[option.a]\nset = { "fan.pair.sped" = "1 %" }\n',
            "a",
            'case.toml:38: option.a.set."fan.pair.sped": unknown key "sped"; did you mean "speed"?',
        ),
        (
            '[option.a]\nset.fan.pair.speed = "200 %"\n',
            "a",
            'case.toml:38: option.a.set.fan.pair.speed: must be at most 150 %; got "200 %"',
        ),
        (
            '[option.a.add.sheet.board]\ncorner = "0, 0 mm"\n',
            "a",
            "case.toml:37: option.a.add.sheet.board: sheet.board is already there; use set to change it",
        ),
        (
            "[option.a.add.plat.x]\n",
            "a",
            'case.toml:37: option.a.add.plat: cannot add "plat"; did you mean "plate"?',
        ),
        (
            '[option."a b".add.sheet.lid]\ncorner = "0, 0 mm"\nsize = "9 x 9 mm"\nthicknes = "1 mm"\n'
            'material = "copper"\n',
            "a b",
            'case.toml:40: option."a b".add.sheet.lid.thicknes: unknown key; did you mean "thickness"?',
        ),
        (
            '[option.a]\nmishaps = ["leak"]\n',
            None,
            'case.toml:38: option.a.mishaps[1]: there is no mishap "leak"',
        ),
    ],
)
def test_options_that_do_not_work(option, name, message, changed):
    assert failure(changed(more="\n" + option), option=name) == message


def test_every_option_is_checked(changed):
    text = changed(
        more='\n[option.a]\nset = { "part.fpga.watts" = "3 mm" }\n[option.b]\nremove = ["fan.x"]\n'
        '[option.c]\nbase = "a"\n'
    )
    assert list(map(str, check_all_options(Case.from_text(text, "case.toml")))) == [
        'case.toml:38: option.a.set."part.fpga.watts": \'3 mm\' is a length; expected a power, for example "35 W"',
        'case.toml:40: option.b.remove[1]: unknown fan "x"',
    ]


def test_the_box_is_written_out(changed):
    case = Case.from_text(changed(more=BOX))
    spec = case.spec
    assert set(spec.sheet) == {"board", "lid", "floor"}
    assert spec.sheet["lid"].size == pytest.approx((0.32, 0.22))
    assert {name: wall.size for name, wall in spec.wall.items()} == {
        "left": (0.22, 0.066),
        "right": (0.22, 0.066),
        "front": (0.32, 0.066),
        "back": (0.32, 0.066),
    }
    assert {wall.joins for wall in spec.wall.values()} == {("sheet.lid", "sheet.floor")}
    # length of level plates: area over perimeter (Incropera & DeWitt, 6th ed., equation 9.29)
    lid, floor, left = (spec.film[f"box_{name}_outside"] for name in ("lid", "floor", "left"))
    assert lid.length == pytest.approx(0.32 * 0.22 / (2 * (0.32 + 0.22)))
    assert (lid.orientation, lid.face) == ("up", "top")
    assert (floor.orientation, floor.face, floor.length) == ("down", "bottom", lid.length)
    assert (left.orientation, left.length, left.on) == ("vertical", pytest.approx(0.066), "wall.left")
    inside = [spec.film[f"box_{name}_inside"] for name in ("lid", "floor", "left", "right", "front", "back")]
    assert [film.face for film in inside] == ["bottom", "top", *["bottom"] * 4]
    assert {film.to for film in inside} == {"airway.main"}
    # 0.212 m² of skin: all six faces
    areas = [2 * 0.32 * 0.22, *(wall.size[0] * wall.size[1] for wall in spec.wall.values())]
    assert sum(areas) == pytest.approx(0.2121, abs=1e-4)


def test_options_reach_the_box_and_what_it_stands_for(changed):
    text = changed(more=BOX + '[option.a]\nset = { "box.thickness" = "3 mm", "film.box_lid_inside.h" = "1 W/m2K" }\n')
    case = Case.from_text(text).with_option("a")
    assert case.spec.sheet["lid"].thickness == pytest.approx(0.003)
    assert case.spec.wall["left"].thickness == pytest.approx(0.003)
    assert case.spec.film["box_lid_inside"].h == 1.0
    assert case.spec.film["box_floor_inside"].h == 5.0


def test_a_case_can_be_built_again_from_what_it_resolves_to(changed):
    case = Case.from_text(changed(more=OPTIONS + BOX)).with_option("hot").with_changes({"run.cell": "3 mm"})
    stored = json.loads(json.dumps(case.resolved()))
    again = Case.from_resolved(stored)
    assert again.option == "hot"
    assert again.mishaps == ("stop",)
    assert again.options == ()
    assert again.spec == case.spec.model_copy(update={"option": {}})
    assert again.resolved() == stored
    assert again.fingerprint() == case.fingerprint()


def test_a_stored_case_can_be_changed_further(changed):
    case = Case.from_text(changed(more=OPTIONS + BOX)).with_option("hot")
    again, hotter = Case.from_resolved(case.resolved()), {"part.fpga.watts": "13 W"}
    assert again.with_changes(hotter).option == "hot"
    assert again.with_changes(hotter).fingerprint() == case.with_changes(hotter).fingerprint()
    assert again.with_mishaps([]).fingerprint() == case.with_mishaps([]).fingerprint()


def test_the_fingerprint_tells_cases_apart_but_not_the_order_of_tables(changed):
    case = Case.from_text(changed())
    turned = Case.from_dict(dict(reversed(tomllib.loads(changed()).items())))
    others = [case.with_changes({"part.fpga.watts": "12.1 W"}), Case.from_text(changed(more=BOX))]
    assert turned.fingerprint() == case.fingerprint()
    assert len({case.fingerprint(), *(other.fingerprint() for other in others)}) == 3


def test_a_case_never_changes(changed):
    tables = tomllib.loads(changed())
    case = Case.from_dict(tables)
    tables["part"]["fpga"]["watts"] = "99 W"
    case.resolved()["part"]["fpga"]["watts"] = "98 W"
    assert case.with_changes({"run.cell": "3 mm"}).spec.part["fpga"].watts == 12.0
    assert case.resolved()["part"]["fpga"]["watts"] == "12 W"
    with pytest.raises(FrozenInstanceError):
        case.option = "x"
    with pytest.raises(ValueError, match="frozen"):
        case.spec.room.temperature = 3.0


def test_mishaps(changed):
    text = changed(
        more='\n[mishap.stop]\nat = "1 min"\nstops = ["pump.extra"]\n[mishap.hot]\nat = "1 min"\n'
        'room_rise = "8 K"\n[option.wet.add.pump.extra]\ncurve = ["0 L/min, 40 kPa", "2 L/min, 0 kPa"]\n'
    )
    case = Case.from_text(text, "case.toml")
    assert case.mishaps == ()
    assert case.with_mishaps(["hot"]).mishaps == ("hot",)
    assert case.with_option("wet").with_mishaps(["stop", "hot"]).mishaps == ("stop", "hot")
    with pytest.raises(CaseError, match=r'^case.toml:39: mishap.stop.stops\[1\]: there is no pump "extra"$'):
        case.with_mishaps(["stop"])
    with pytest.raises(CaseError, match=r'mishap: there is no mishap "hott"; did you mean "hot"\?$'):
        case.with_mishaps(["hott"])


def test_warnings_do_not_stop_a_case(changed):
    more = '\n[fan.spare]\ncurve = ["0 m3/h, 9 Pa", "9 m3/h, 0 Pa"]\n[reservoir.spare]\nvolume = "1 L"\n'
    text = changed(('"plate.cold", "radiator.outside"', '"plate.cold"'), more=more, loop=True)
    assert list(map(str, Case.from_text(text, "case.toml").warnings)) == [
        "case.toml:51: radiator.outside: is in no loop",
        "case.toml:63: loop.main.path: has no radiator; only its plates and blocks can lose its heat",
        "case.toml:65: fan.spare: is in no airway",
        "case.toml:67: reservoir.spare: is in no loop",
    ]


def test_branches_and_glycol(changed):
    text = changed(
        (
            '["plate.cold", "radiator.outside"]',
            '["hose.a", [["plate.cold", "hose.b"], "hose.c"], "radiator.outside"]',
        ),
        ('"water"', '"propylene glycol"\nfraction = "30 %"'),
        ('"22 degC"', '"-5 degC"'),
        more="".join(f'\n[hose.{name}]\nlength = "1 m"\nbore = "4 mm"\n' for name in "abc"),
        loop=True,
    )
    assert Case.from_text(text).warnings == ()


def test_duties_and_must_haves_in_si(changed):
    text = changed(
        more='\n[duty.watts]\nof = "part.fpga.watts"\npoints = ["0 s, 1 W", "1 min, 3 W"]\n'
        '[duty.room]\nof = "room.temperature"\n'
        'sine = { mean = "22 degC", amplitude = "2 K", period = "24 h" }\n'
        '[duty.state]\nof = "state"\npoints = ["0 s, idle", "1 min, work"]\n'
        '[must_have.a]\nof = "part.fpga"\nat_most = "358.15 K"\n'
        '[must_have.b]\nof = "warm-up"\nat_most = "20 min"\n'
    )
    spec = Case.from_text(text).spec
    assert duty_points(spec.duty["watts"]) == [(0.0, 1.0), (60.0, 3.0)]
    assert duty_points(spec.duty["state"]) == [(0.0, "idle"), (60.0, "work")]
    assert duty_values(spec, "room.temperature") == [20.0, 24.0]
    assert must_have_limits(spec.must_have["a"]) == (pytest.approx(85.0), None)
    assert must_have_limits(spec.must_have["b"]) == (1200.0, None)


def test_materials_by_any_spelling_and_the_case_first(changed):
    assert material("Aluminium 6061", {}) is library()["aluminium-6061"]
    own = changed(
        more='\n[material."ALUMINIUM 6061"]\nconductivity = "1 W/mK"\ndensity = "1 kg/m3"\ncp = "1 J/kgK"\n'
        'source = "made up"\n'
    )
    assert material("aluminium_6061", Case.from_text(own).spec.material).conductivity == 1.0
    # copper at 300 K: Incropera & DeWitt, 6th ed., table A.1
    copper = library()["copper"]
    assert (copper.conductivity, copper.density, copper.cp) == (401.0, 8933.0, 385.0)


TOML = '''\
# [not.a.table]
title = "a # [b]"   # comment
multi = """
[no]
x = 1
"""
literal = \'\'\'
y = "]"
\'\'\'
numbers = [
  1, # one
  [2, 3],
  { a = 4, "b.c" = 5 },
]
when = 1979-05-27 07:32:00
a.b."c d" = true
[table]
'quo"ted' = 1
[table.sub."x.y"]
k = { l = { m = [
  1,
  2 ] } }
[[list]]
n = 1
[[list]]
n = 2
[list.inner]
o = 3
'''  # fmt: skip


def test_lines_of_every_key():
    lines = key_lines(TOML)

    def paths(value, at=()):
        if at:
            yield at
        items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        for key, item in items:
            yield from paths(item, (*at, key))

    # tomllib knows all keys but no lines
    assert set(lines) == set(paths(tomllib.loads(TOML)))
    numbers = {
        ("title",): 2, ("multi",): 3, ("literal",): 7, ("numbers", 1, 0): 12, ("numbers", 2, "b.c"): 13,
        ("when",): 15, ("a", "b", "c d"): 16, ("table", 'quo"ted'): 18, ("table", "sub", "x.y", "k", "l"): 20,
        ("table", "sub", "x.y", "k", "l", "m", 1): 22, ("list", 1, "n"): 26, ("list", 1, "inner", "o"): 28,
    }  # fmt: skip
    assert {path: lines[path] for path in numbers} == numbers


def test_windows_line_ends_and_a_byte_order_mark(changed, tmp_path):
    path = tmp_path / "case.toml"
    text = changed(('"12 W"', '"12 mm"')).replace("\n", "\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    with pytest.raises(CaseError, match=r"^case.toml:18: part.fpga.watts: "):
        load_case(path)


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("part.fpga.watts", ("part", "fpga", "watts")),
        ('option."air, full. speed".note', ("option", "air, full. speed", "note")),
        ("part.power unit.watts", ("part", "power unit", "watts")),
        ("part.'a.b' . watts", ("part", "a.b", "watts")),
        ("part.", None),
        ("", None),
        ('part."open', None),
    ],
)
def test_addresses(text, path):
    assert split_address(text) == path
    if path:
        assert split_address(dotted(path)) == path


def test_work_of_loading_grows_no_faster_than_the_case(changed):
    def calls(count: int) -> int:
        parts = "".join(
            f'\n[part.p{n}]\nwatts = "1 W"\nheat_capacity = "1 J/K"\nsize = "1 x 1 mm"\nlimit = "85 degC"\n'
            f'[film.p{n}]\non = "part.p{n}"\nlaw = "fixed"\nh = "9 W/m2K"\n'
            for n in range(count)
        )
        text = changed(more=parts)
        found = 0

        def seen(frame, event, what):
            nonlocal found
            found += 1

        sys.setprofile(seen)
        try:
            Case.from_text(text)
        finally:
            sys.setprofile(None)
        return found

    few, some, many = (calls(count) for count in (40, 80, 160))
    assert many - some < 2.2 * (some - few)


def test_loading_needs_no_numpy():
    code = "import sys, thermsim.case; sys.exit('numpy' in sys.modules or 'scipy' in sys.modules)"
    assert run([sys.executable, "-c", code], check=False).returncode == 0


def test_criteria_that_the_run_knows():
    assert set(get_args(Criterion)) == set(CRITERIA)


def test_the_demonstration_case_and_all_its_options():
    from pathlib import Path

    case = load_case(Path(__file__).parents[2] / "cases" / "digitiser")
    assert case.spec.case.invented
    assert check_all_options(case) == []

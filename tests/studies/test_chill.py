"""Chilled air alone: superposition, ASHRAE's dew points, and a small box whose hot part can be worked by hand."""

import json
import re

import numpy as np
import pytest
from click.testing import CliRunner

from thermsim.case import Case, CaseError, load_case
from thermsim.cli import cli, main
from thermsim.report.chill_figures import chill_figure
from thermsim.report.chill_text import chill_text
from thermsim.studies.chill.equivalent import highest_where
from thermsim.studies.chill.study import chill
from thermsim.studies.chill.warnings import limits_of

ROOM_DEW = 13.864  # °C, of air at 25 °C and 50 %: ASHRAE Handbook, Fundamentals

BOX = """
[case]
title = "bench box"
[room]
temperature = "25 degC"
humidity = "50 %"
noise_floor = "10 dB(A)"
[run]
duration = "20 min"
cell = "10 mm"
[sheet.board]
corner = "0, 0 mm"
size = "100 x 60 mm"
thickness = "1.6 mm"
conductivity = "20 W/mK"
heat_density = "2e6 J/m3K"
[part.chip]
on = "sheet.board"
centre = "50, 30 mm"
size = "20 x 20 mm"
watts = "10 W"
limit = "60 degC"
to_board = "50 K/W"
heat_capacity = "5 J/K"
[part.watcher]
on = "sheet.board"
centre = "80, 30 mm"
size = "10 x 10 mm"
watts = "0.5 W"
limit = "90 degC"
to_board = "5 K/W"
heat_capacity = "2 J/K"
[sink.chip]
on = "part.chip"
airway = "airway.main"
resistance = "1 K/W"
at_flow = "20 m3/h"
exponent = 0.6
heat_capacity = "20 J/K"
[joint.paste]
between = ["part.chip", "sink.chip"]
resistance = "3 K/W"
[fan.one]
curve = ["0 m3/h, 30 Pa", "40 m3/h, 0 Pa"]
noise = "30 dB(A)"
[airway.main]
corner = "0, 0 mm"
size = "100 x 60 mm"
height = "20 mm"
fans = ["fan.one"]
resistance = "0.02 Pa/(m3/h)2"
draught = "1 m3/h"
[film.top]
on = "sheet.board"
to = "airway.main"
law = "scaled"
h = "20 W/m2K"
at_flow = "20 m3/h"
exponent = 0.6
"""
LIQUID = """
[option.liquid]
remove = ["sink.chip", "joint.paste"]
[option.liquid.add.block.chip]
resistance = "0.5 K/W"
volume = "10 mL"
drop = "2 kPa"
drop_at = "1 L/min"
heat_capacity = "50 J/K"
[option.liquid.add.joint.chip_block]
between = ["part.chip", "block.chip"]
resistance = "1 K/W"
[option.liquid.add.pump.p]
curve = ["0 L/min, 20 kPa", "2 L/min, 0 kPa"]
[option.liquid.add.hose.h]
length = "1 m"
bore = "5 mm"
[option.liquid.add.airway.r]
flow = "30 m3/h"
[option.liquid.add.radiator.r]
airway = "airway.r"
conductance = "5 W/K"
at_flow = "30 m3/h"
exponent = 0.5
volume = "50 mL"
drop = "1 kPa"
drop_at = "1 L/min"
[option.liquid.add.loop.m]
pump = "pump.p"
coolant = "water"
path = ["hose.h", "block.chip", "radiator.r"]
"""
GOVERNOR = """
[part.aside]
centre = "50, 100 mm"
size = "20 x 20 mm"
watts = "0.7 W"
limit = "90 degC"
heat_capacity = "5 J/K"
[film.aside]
on = "part.aside"
to = "airway.side"
law = "scaled"
h = "100 W/m2K"
at_flow = "20 m3/h"
exponent = 0.6
[fan.two]
curve = ["0 m3/h, 30 Pa", "40 m3/h, 0 Pa"]
[airway.side]
corner = "0, 80 mm"
size = "100 x 40 mm"
fans = ["fan.two"]
resistance = "0.02 Pa/(m3/h)2"
[governor.chip]
sensor = "part.chip"
drives = ["fan.one", "fan.two"]
law = "hold"
set_point = "70 degC"
gain = "4 %/K"
reset = "60 s"
min_speed = "20 %"
"""


def study(tmp_path, *changes: str, more: str = "", **settings) -> dict:
    return chill(Case.from_text(BOX + more, changes=changes), tmp_path, **settings)


def test_a_box_cooled_by_its_stream_alone_follows_its_inlet(tmp_path):
    # superposition: with no other way out than the stream every rise above the inlet stays, but that the
    # stream's mass flow goes with its density, 7 % over the sweep, and its own warming is 2 K at most
    facts = study(tmp_path)
    inlets = np.array(facts["inlets_degc"])
    for name, degc in facts["frozen"]["parts_degc"].items():
        rise = np.array(degc) - inlets
        assert np.ptp(rise) < 0.15, name
    assert facts["governed"] is False
    assert facts["live"] == facts["frozen"]
    assert 25.0 in facts["inlets_degc"]
    assert (inlets[0], inlets[-1]) == (5.0, 33.0)


def test_the_room_s_dew_point_bounds_the_inlet(tmp_path):
    facts = study(tmp_path)
    assert facts["dew_point_degc"] == pytest.approx(ROOM_DEW, abs=0.002)
    # the inlet itself is the coldest place, so it may be 2 (3) K above the dew point and no colder
    assert facts["lowest_dry_inlet_degc"]["2"] == pytest.approx(ROOM_DEW + 2, abs=0.005)
    assert facts["lowest_dry_inlet_degc"]["3"] == pytest.approx(ROOM_DEW + 3, abs=0.005)
    assert facts["live"]["coldest_at"][0].startswith("airway.main")
    assert facts["live"]["dew_margin_k"][0] == pytest.approx(5 - ROOM_DEW, abs=0.005)
    assert facts["live"]["coldest_degc"][-1] == pytest.approx(25)  # then it is the room


def test_bad_paste_is_not_helped_by_cold_air(tmp_path):
    facts = study(tmp_path, "joint.paste.resistance=5 K/W")
    # by hand: 10 W through 5 + 1 K/W is 60 K above air that may be no colder than 15.9 °C, against a limit of 60
    assert facts["verdict"]["helps"] == "no"
    assert facts["verdict"]["reason"] == "a joint"
    assert facts["verdict"]["joint"]["joint"] == "paste"
    assert facts["verdict"]["joint"]["drop_k"] == pytest.approx(5 * 9.2, abs=0.5)  # 0.8 of the 10 W go by the board
    assert facts["answer"][0].startswith(
        "Chilled air does not help here: even air of 15.9 °C, the coldest that stays dry"
    )
    assert "joint.paste, which no air reaches: mend that first" in facts["answer"][0]


def test_good_paste_lets_cold_air_help(tmp_path):
    facts = study(tmp_path)  # 10 W through 3 + 1 K/W: about 65 °C in the room, 56 at the coldest dry inlet
    assert facts["verdict"]["helps"] == "yes"
    assert facts["base"]["worst_margin_k"] < 0 < facts["coldest_dry"]["frozen"]["worst_margin_k"]
    kept = facts["frozen"]["limits_kept_from_degc"]
    assert np.interp(kept, facts["inlets_degc"], facts["frozen"]["parts_degc"]["chip"]) == pytest.approx(60, abs=1e-3)
    assert facts["answer"][0].startswith("Chilled air helps: air of 15.9 °C")
    assert f"every limit is kept from an inlet of {kept:.1f} °C down" in facts["answer"][0]


def test_a_sink_too_small_is_not_enough_rather_than_hopeless(tmp_path):
    facts = study(tmp_path, "joint.paste.resistance=0.2 K/W", "sink.chip.resistance=6 K/W")
    assert facts["verdict"]["helps"] == "not enough"
    assert facts["answer"][0].startswith("Chilled air alone is not enough")


def test_a_wet_room_leaves_nothing_to_chill(tmp_path):
    facts = study(tmp_path, "room.humidity=95 %")
    assert facts["coldest_dry"] is None
    assert facts["trial"] is None
    assert "dry its air first" in facts["answer"][0]
    assert "dry the room's air" in facts["answer"][-1]


def test_a_drop_lost_in_the_uncertainty_is_no_help_and_no_trial(tmp_path):
    # 9 K of cold make some 9 K less: not three times 4 K
    facts = study(tmp_path, "decide.uncertainty=4 K")
    assert facts["verdict"]["reason"] == "lost in the uncertainty"
    assert facts["trial"] is None
    assert facts["answer"][-1].startswith("No trial with chilled air would tell anything")


def test_without_humidity_nothing_is_said_of_dew(tmp_path):
    case = Case.from_text(BOX.replace('humidity = "50 %"\n', ""))
    facts = chill(case, tmp_path)
    assert facts["lowest_dry_inlet_degc"] == {"2": None, "3": None}
    assert facts["coldest_dry"]["inlet_degc"] == 5.0
    assert "room.humidity is missing: condensation is not judged" in facts["warnings"]
    assert "measure its dew point first" in facts["trial"]["text"]
    assert "Stop if the inlet falls below" not in facts["trial"]["text"]
    year = tmp_path / "year.csv"
    year.write_text("dew_point_degc\n" + "10\n" * 20, encoding="utf-8")
    told = chill(case, tmp_path, year)
    assert told["weather"]["places"] == {}  # no inlet is known to be dry
    assert "year.csv has 20 rows, each taken as an hour; a year has 8760" in told["warnings"]


def test_the_cheapest_trial_is_the_warmest_that_can_be_told(tmp_path):
    facts = study(tmp_path)
    trial = facts["trial"]
    # one kelvin of inlet is one of the part, three times 0.5 K are needed: 25 - 1.5, to the half kelvin below
    assert trial["inlet_degc"] in (23.0, 23.5)
    assert 1.5 <= trial["expected"]["chip"]["drop_k"] < 2.1
    assert trial["refuted_below_k"] == pytest.approx(trial["expected"]["chip"]["drop_k"] - 1.0)
    assert trial["minutes"] % 5 == 0
    assert "part chip" in trial["reads"]
    assert "leave all speeds as they are" in trial["text"]


def test_equivalent_inlet_of_the_liquid_option(tmp_path):
    facts = study(tmp_path, "chill.low=-20 degC", more=LIQUID)
    (option,) = facts["equivalents"]
    still = option["frozen"]
    for name, inlet in still["parts"].items():
        if inlet is not None and name not in still["at_any_inlet"]:
            reached = np.interp(inlet, facts["inlets_degc"], facts["frozen"]["parts_degc"][name])
            assert reached == pytest.approx(option["parts_degc"][name], abs=1e-3)
    assert still["parts"]["chip"] is not None
    assert still["deciding_part"] == "chip"
    assert still["all_parts_degc"] == min(still["parts"].values())
    assert f"Cold air of {still['all_parts_degc']:.1f} °C (too cold to stay dry) does" in facts["answer"][1]
    assert facts["answer"][1].endswith("what liquid does (chip decides); it is no quieter than the box is now.")
    # where the sweep does not reach, that is said
    short = study(tmp_path, "chill.low=24 degC", more=LIQUID)["equivalents"][0]
    assert short["frozen"]["parts"]["chip"] is None
    assert short["frozen"]["deciding_excess_k"] > 0


def test_options_with_the_same_liquid_are_no_liquid_options(tmp_path):
    case = Case.from_text(BOX + LIQUID + '[option.cold]\nbase = "liquid"\nset = { "airway.main.inlet" = "9 degC" }\n')
    assert chill(case.with_option("liquid"), tmp_path)["equivalents"] == []
    names = [one["option"] for one in chill(case, tmp_path)["equivalents"]]
    assert names == ["liquid", "cold"]


def test_duties_that_a_settled_state_leaves_out_are_named(tmp_path):
    duty = '[duty.d]\nof = "part.watcher.watts"\npoints = ["0 min, 1 W", "9 min, 2 W"]\n'
    (warning,) = [text for text in study(tmp_path, more=duty)["warnings"] if "left out" in text]
    assert warning.endswith("changes of part.watcher.watts")


def test_an_option_that_cannot_take_a_change_is_left_out_and_said(tmp_path):
    facts = study(tmp_path, "joint.paste.resistance=1.5 K/W", more=LIQUID)
    assert facts["equivalents"] == []
    assert 'option liquid is left out: --set: joint.paste.resistance: unknown joint "paste"' in facts["warnings"]


def test_a_liquid_option_below_the_dew_point_is_warned_of(tmp_path):
    cold = '[option.cold]\nbase = "liquid"\nset = { "airway.r.inlet" = "8 degC" }\n'
    facts = study(tmp_path, more=LIQUID + cold)
    (told,) = facts["limits"]
    assert (told["name"], told["where"], told["options"]) == ("condensation", ["airway.r.inlet"], ["cold"])
    assert told["text"].startswith("the coldest place, 8.0 °C, is 5.9 K below the room's dew point")


def test_governors_that_never_rest_are_told_of_the_sweep_not_of_an_option():
    facts = {
        "inlets_degc": [10.0, 15.0], "live": {"settles": [False, True]}, "governors": ["governor.g"],
        "equivalents": [], "dew_point_degc": 12.0, "dew_margin_k": 2.0,
    }  # fmt: skip
    (told,) = limits_of(facts)
    assert (told["name"], told["where"]) == ("governors never rest", ["governor.g"])
    assert "at an inlet of 10.0 °C" in told["text"]
    assert "options" not in told


def test_a_governor_turns_cold_into_quiet(tmp_path):
    facts = study(tmp_path, more=GOVERNOR)
    inlets = np.array(facts["inlets_degc"])
    room = inlets.tolist().index(25.0)
    assert facts["governed"]
    # frozen where it settles at the room's inlet: the two courses cross there
    for name in ("chip", "watcher"):
        assert facts["live"]["parts_degc"][name][room] == pytest.approx(
            facts["frozen"]["parts_degc"][name][room], abs=1e-3
        )
    assert facts["live"]["parts_degc"]["chip"][room] == pytest.approx(70, abs=1e-3)
    # the part aside breathes room air from a fan that slows down with the other: colder inlet, hotter part
    assert facts["live"]["parts_degc"]["aside"][0] > facts["live"]["parts_degc"]["aside"][room] + 2
    assert np.ptp(facts["frozen"]["parts_degc"]["aside"]) < 1e-3
    assert np.all(np.diff(facts["live"]["speeds"]["fan.one"]) >= -1e-6)
    assert np.ptp(facts["frozen"]["with_room_dba"]) < 1e-6
    assert np.all(np.diff(facts["live"]["with_room_dba"]) >= -1e-6)
    assert "With governor.chip live the same air takes the noise from" in facts["answer"][1]
    assert "hotter than now: aside" in facts["answer"][1]
    assert "take governor.chip off and hold fan.one at" in facts["trial"]["text"]


def test_the_trial_is_the_case_s_own_where_that_is_dry_and_can_be_told(tmp_path):
    def option(name, degc):
        return f'[option.{name}]\nset = {{ "airway.main.inlet" = "{degc} degC" }}\n'

    # 25 °C less three times 0.5 K is told at 23.5 °C; the dew point is 13.9 °C
    others = option("wet", 14) + option("faint", 24.5)
    others += '[option.both]\nset = { "airway.main.inlet" = "22 degC", "fan.one.speed" = "90 %" }\n'
    told = study(tmp_path, more=option("cooler", 17) + option("cool", 20) + others)
    assert (told["trial"]["as_option"], told["trial"]["inlet_degc"]) == ("cool", 20.0)
    # all else is linear and warms with the inlet alone
    assert told["trial"]["expected"]["chip"]["drop_k"] == pytest.approx(5.0, abs=0.1)
    assert told["trial"]["refuted_below_k"] == pytest.approx(4.0, abs=0.1)
    assert "Trial: “cool”, air of 20.0 °C" in " ".join(told["answer"])
    assert "air of 20.0 °C, as in “cool”, in place of" in told["trial"]["text"]
    assert study(tmp_path, more=others)["trial"]["as_option"] is None


def test_levels_say_what_they_leave_out(tmp_path):
    facts = study(tmp_path, more=GOVERNOR + LIQUID)
    assert "dB(A) with the room (without fan.two: no noise stated)" in facts["answer"][1]
    assert facts["equivalents"][0]["noise_without"] == ["fan.two", "pump.p"]


def test_slow_or_loud_only_is_said(tmp_path):
    must = '[must_have.quiet]\nof = "noise"\nat_most = "20 dB(A)"\n'
    facts = study(tmp_path, "part.chip.limit=90 degC", more=must)
    assert facts["verdict"] | {"drop_k": 0} == {
        "helps": "no", "part": "chip", "drop_k": 0, "reason": "noise stays", "joint": None,
    }  # fmt: skip
    assert "colder air leaves the noise at 30.0 dB(A), where 20 are allowed" in facts["answer"][0]


def test_weather_counts_the_hours(tmp_path):
    path = tmp_path / "year.csv"
    hours = [(25.0, 10.0)] * 5 + [(25.0, 15.0)] * 3 + [(25.0, 20.0)] * 2
    path.write_text("dry_bulb_degc,dew_point_degc\n" + "".join(f"{t},{d}\n" for t, d in hours), encoding="utf-8")
    facts = study(tmp_path, weather=path)
    weather = facts["weather"]
    assert weather["hours"] == 10
    assert weather["hours_below"][0] == 10  # an inlet of 5 °C
    coldest = np.array(facts["frozen"]["coldest_degc"])
    assert weather["hours_below"] == [5 * (c < 10) + 3 * (c < 15) + 2 * (c < 20) for c in coldest]
    assert weather["hours_below_or_within_2k"] == [5 * (c < 12) + 3 * (c < 17) + 2 * (c < 22) for c in coldest]
    assert "it would be wet for 2 of 10 hours" in " ".join(facts["answer"])


def test_interrupted_and_called_again_goes_on_and_ends_the_same(tmp_path):
    whole = study(tmp_path / "whole", more=GOVERNOR + LIQUID)
    done = []

    def stop(count, total):
        done.append(count)
        if count == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study(tmp_path / "halves", more=GOVERNOR + LIQUID, progress=stop)
    assert not (tmp_path / "halves" / "chill.json").exists()
    kept = (tmp_path / "halves" / "chill.kept.jsonl").read_text(encoding="utf-8")
    assert kept.count("\n") == 3
    again = study(tmp_path / "halves", more=GOVERNOR + LIQUID)
    assert again == whole
    assert (tmp_path / "halves" / "chill.kept.jsonl").read_text(encoding="utf-8").startswith(kept)
    stored = json.loads((tmp_path / "halves" / "chill.json").read_text(encoding="utf-8"))
    stored.pop("stamp")
    assert stored == again


def flat(value) -> list[float]:
    """Every number of nested facts, in order."""
    if isinstance(value, dict):
        return [number for one in value.values() for number in flat(one)]
    if isinstance(value, list):
        return [number for one in value for number in flat(one)]
    return [float(value)] if isinstance(value, int | float) else []


def test_highest_where_is_that_of_a_fine_scan():
    draw = np.random.default_rng(1)
    for _ in range(200):
        inlets = np.sort(draw.uniform(0, 30, 6))
        excess = [draw.normal(-1, 3, 6) for _ in range(2)]
        fine = np.linspace(inlets[0], inlets[-1], 20_001)
        good = fine[np.all([np.interp(fine, inlets, values) <= 1e-4 for values in excess], axis=0)]
        found = highest_where(inlets, excess)
        if good.size:
            assert found == pytest.approx(good[-1], abs=2e-3)
        elif found is not None:  # a place narrower than the scan
            assert max(np.interp(found, inlets, values) for values in excess) < 2e-4


def test_text_and_figure_tell_it(tmp_path):
    facts = study(tmp_path, more=GOVERNOR + LIQUID)
    text = chill_text(facts, 500)
    assert text.splitlines()[1] == f"• {facts['answer'][0]}"
    assert re.search("part +now °C +liquid °C +air does it from °C +live from °C", text)
    assert text.rstrip().splitlines()[-1].startswith("caution: ")
    figure = chill_figure(facts)
    assert [axes.get_ylabel() for axes in figure.axes] == ["°C", "°C", "dB(A) with the room"]
    wet = next(patch for patch in figure.axes[0].patches if patch.get_gid() == "wet")
    assert wet.get_x() + wet.get_width() == pytest.approx(ROOM_DEW, abs=0.01)


@pytest.fixture
def box_file(tmp_path):
    path = tmp_path / "box.toml"
    path.write_text(BOX + LIQUID, encoding="utf-8")
    return path


def test_the_command_stores_and_prints(box_file, tmp_path):
    out = tmp_path / "out"
    done = CliRunner().invoke(cli, ["chill", str(box_file), "-o", str(out), "--low", "10 degC", "--steps", "4"])
    assert done.exit_code == 0, done.output
    assert "Chilled air helps" in done.output
    assert done.output.rstrip().endswith(f"Stored in {out} with figures.")
    assert {path.name for path in out.iterdir()} == {"chill.json", "chill.kept.jsonl", "chill.png", "chill.svg"}
    told = CliRunner().invoke(cli, ["chill", str(box_file), "-o", str(out), "--no-figures", "--json"])
    kept = json.loads((out / "chill.json").read_text(encoding="utf-8"))
    assert kept.pop("stamp")
    assert json.loads(told.output) == kept


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (["--low", "30 degC"], "chill.low: the sweep must begin below the room's 25 °C"),
        (["--low", "24.9 degC"], "by 0.5 K or more; got 24.9 to 33 °C"),
        (["--low", "5 K"], "chill.low: must be -60 to 120 °C; got -268.15 °C"),
        (["--low", "10 degC", "--high", "5 degC"], "chill.high: the sweep would go from 10 °C to 5 °C"),
        (["--low", "5 mm"], "chill.low: '5 mm' is a length; expected a temperature"),
        (["--steps", "1"], "chill.steps: must be at least 2; got 1"),
        (["--airway", "mian"], 'chill.airway: there is no airway "mian"; did you mean "main"?'),
        (["--weather", "nowhere.csv"], "nowhere.csv: no such file"),
        (["-p", "liqid"], 'did you mean "liquid"?'),
    ],
)
def test_mistakes_get_one_message(flags, words, box_file, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["thermsim", "chill", str(box_file), "-o", str(tmp_path / "out"), *flags])
    with pytest.raises(SystemExit) as end:
        main()
    assert end.value.code == 2
    assert words in capsys.readouterr().err


def test_settings_do_not_change_what_a_run_is(box_file):
    case = load_case(box_file)
    assert case.with_changes({"chill.low": "8 degC"}).fingerprint() == case.fingerprint()


def test_an_airway_that_draws_from_another_is_not_chilled():
    stir = '[airway.stir]\ninlet = "airway.main"\nreturns = true\nflow = "5 m3/h"\n'
    with pytest.raises(CaseError, match=r"takes its air from airway\.main; chill that one"):
        Case.from_text(BOX + stir + '[chill]\nairway = "stir"\n')

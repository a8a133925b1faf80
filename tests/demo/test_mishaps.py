"""What happens to both demo boxes when things fail.

These are regression checks of the invented demos, not checks of physics. The bands are those of an independent 5 mm
grid and hand sums made before this program: temperatures ±4 K, times as they were given there.
"""

from functools import cache
from pathlib import Path

import pytest

from thermsim.case import load_case
from thermsim.studies.mishap.strike import strike
from thermsim.studies.mishap.study import struck_by_default
from thermsim.studies.mishap.troubles import troubles

CASES = {
    name: load_case(Path(__file__).parents[2] / "cases" / name, changes={"run.cell": cell})
    for name, cell in (("digitiser", "8 mm"), ("organ", "10 mm"))
}
PREAMPS = ("preamp_left", "preamp_right")


@cache
def struck(box: str, option: str | None, mishap: str) -> dict:
    case = CASES[box].with_option(option)
    return strike(case, troubles(case)[mishap])


def test_which_options_are_struck_and_by_what():
    assert struck_by_default(CASES["digitiser"]) == ["base", "liquid, fans off", "hybrid"]
    assert struck_by_default(CASES["organ"])[:3] == ["base", "liquid", "liquid, two blocks side by side"]
    # the file's own mishaps stand for the customary ones that do the same; what an option has not cannot fail
    assert list(troubles(CASES["digitiser"])) == ["hot_room", "fan.pair stops", "airway.main blocked", "room +12 K"]
    organ = troubles(CASES["organ"].with_option("liquid"))
    assert "cooler_fan_stops" not in organ  # it stands already
    assert {"pump_stops", "radiator_fans_stop", "fan.case stops", "loop.main low", "room +8 K"} <= set(organ)


def test_the_digitiser_s_pump_stops():
    found = struck("digitiser", "hybrid", "pump_stops")
    # the preamps, which nobody thinks of, are the first; the converters follow by what the plate still loses
    assert found["first_over"]["part"] in PREAMPS
    assert 20 < min(time for part, time in found["over_s"].items() if part.startswith("adc")) / 60 < 35
    assert found["first_over"]["time_s"] > found["adiabatic"]["time_s"]
    assert found["first_over"]["part"] in found["history"]["parts_degc"]
    # a thermometer on the plate tells minutes before, one in the standing hose does not
    assert found["best_alarm"]["of"] == "mean of plate main"
    assert found["best_alarm"]["lead_s"] > 180
    hose = next(a for a in found["alarms"] if a["of"] == "coolant at the pump of main" and a["rise_k"] == 5.0)
    assert hose["stream_stands"]
    assert hose["rings_s"] is None or hose["rings_s"] > found["first_over"]["time_s"]
    assert 0.5 < found["safe_power"]["factor"] < 1.0


def test_a_plate_that_loses_enough_needs_no_pump():
    # 0.3 W/K from the plate's 192 cm²: 16 W/m²K; at 40 % speed a film of 40 at 40 m³/h gives 17
    case = CASES["digitiser"].with_option("hybrid").with_changes({"film.plate_top.h": "40 W/m2K"})
    found = strike(case, troubles(case)["pump_stops"])
    assert not [part for part in found["over_s"] if part.startswith("adc")]


def test_the_digitiser_s_radiator_fan_stops():
    found = struck("digitiser", "hybrid", "radiator_fan_stops")
    assert found["ends"]["parts_degc"]["fpga"] == pytest.approx(45, abs=4)
    assert found["ends"]["settled"]


def test_the_digitiser_in_a_hot_chamber():
    found = struck("digitiser", "hybrid", "hot_room")
    hottest = max(found["ends"]["parts_degc"][part] for part in PREAMPS)
    assert hottest == pytest.approx(52.6, abs=1)
    assert found["first_over"]["part"] in PREAMPS
    assert 0.8 < found["safe_power"]["factor"] < 1


@pytest.mark.parametrize(
    ("option", "mishap", "battery", "holds"),
    [
        (None, "hot_room", 42, True),
        ("air, hot room", "clogged_filter", 46, False),
        ("liquid", "hot_room", 39, True),
    ],
)
def test_the_organ_s_battery_in_a_hot_hall(option, mishap, battery, holds):
    found = struck("organ", option, mishap)
    assert found["ends"]["parts_degc"]["battery"] == pytest.approx(battery, abs=4)
    assert ("battery" not in found["over_s"]) is holds
    assert (found["safe_power"]["factor"] > 1) is holds


def test_the_organ_s_pump_stops():
    found = struck("organ", "liquid", "pump_stops")
    assert found["first_over"]["part"] == "processor"
    # 46 K · 130 J/K / 55 W with no way out; stagnant coolant takes some: about 2 min
    assert found["adiabatic"]["time_with_s"] == pytest.approx(46 * 130 / 55, rel=0.05)
    assert found["adiabatic"]["time_with_s"] < found["first_over"]["time_s"] < 180
    assert found["hottest_coolant_degc"] > 95  # left so it boils, and the study warns
    assert found["safe_power"]["factor"] < 0.2


def test_an_airlock_is_as_bad_as_no_pump_and_some_coolant_less_is_nothing():
    option = "liquid, two blocks side by side"
    airlock, stop = struck("organ", option, "block.processor airlocked"), struck("organ", option, "pump_stops")
    assert airlock["first_over"]["time_s"] == pytest.approx(stop["first_over"]["time_s"], rel=0.05)
    low = struck("organ", option, "loop.main low")
    assert low["first_over"] is None
    assert not low["level"]["main"]["pump_draws_air"]

"""The lesson of the organ's sound engine.

These are regression checks of the invented demo, not checks of physics. The bands are those of hand sums made
before this program: temperatures ±4 K, flows ±10 %, levels ±1 dB.
"""

from functools import cache
from pathlib import Path

import pytest

from thermsim.case import CaseError, load_case
from thermsim.model.build import build
from thermsim.solve.steady import solve_steady
from thermsim.studies.decide.study import compare_study
from thermsim.studies.decide.trials import LIQUID_IS_WORSE
from thermsim.studies.run import run

CASE = load_case(Path(__file__).parents[2] / "cases" / "organ", changes={"run.cell": "10 mm"})
LIQUID_TWIN = "liquid, two blocks side by side"


@cache
def steady(option: str | None, *changes: str) -> dict:
    """Summary of a run too short to matter: its steady states are what is looked at."""
    return run(CASE.with_option(option).with_changes(("run.duration=1 s", "run.frames=2", *changes))).summary


def degc(summary: dict, part: str) -> float:
    return summary["parts"][part]["steady_degc"]


def failed(summary: dict) -> set[str]:
    return {must["name"] for must in summary["must_haves"] if not must["met"]}


def test_air_is_cool_enough_and_too_loud():
    air = steady(None)
    assert failed(air) == {"quiet"}
    # 28 Pa fan at 85 % against 0.007 Pa/(m³/h)²: 9.6 Pa at 37 m³/h; 83.5 W there, less what the skin loses
    assert air["air"]["main"]["flow_m3_per_h"] == pytest.approx(37, rel=0.1)
    assert air["air"]["main"]["outlet_degc"] - 23 == pytest.approx(5.7, rel=0.1)
    assert degc(air, "processor") == pytest.approx(62.5, abs=4)
    # 33 and 30 dB(A) at 85 %, 50 log10(0.85) = −3.5: 29.5 and 26.5 add up to 31.2
    assert air["noise"]["sources_dba"] == pytest.approx(31.2, abs=0.1)


def test_liquid_is_cool_and_quiet():
    liquid = steady("liquid")
    assert failed(liquid) == set()
    assert degc(liquid, "processor") == pytest.approx(34, abs=4)
    assert degc(liquid, "power_stage") == pytest.approx(33, abs=4)
    # case fan at half speed 14.9, two fans of 11, pump 14: 19.1; with a hall of 18: 21.6
    assert liquid["noise"]["sources_dba"] == pytest.approx(19.1, abs=0.1)
    assert liquid["noise"]["with_room_dba"] == pytest.approx(21.6, abs=0.1)


def test_loop_settles_where_the_hand_sum_does():
    loop = steady("liquid")["coolant"]["main"]
    assert loop["flow_l_per_min"] == pytest.approx(1.5, rel=0.1)
    assert loop["pressure_pa"] == pytest.approx(24e3, rel=0.1)
    # 2.5 mPa·s at 25 °C gives Re 2200 at 1.5 L/min; at the coolant's own 28 °C it is 2.2 mPa·s and Re 2500
    hose = loop["elements"]["hose.out"]
    assert hose["reynolds"] == pytest.approx(2500, rel=0.05)
    assert hose["regime"] == "transitional"
    (told,) = [one for one in steady("liquid")["limits"] if one["name"] == "flow in transition"]
    assert told["where"] == ["hose.out", "hose.link", "hose.back"]


def test_radiator_by_effectiveness():
    # UA 26·(60/110)^0.5 = 19.2; air 20 W/K, coolant 99 W/K: NTU 0.96, effectiveness 0.58
    (radiator,) = steady("liquid")["coolant"]["main"]["radiators"].values()
    assert radiator["conductance_w_per_k"] == pytest.approx(11.6, rel=0.03)
    assert radiator["coolant_in_degc"] == pytest.approx(28.8, abs=0.5)


def test_pin_plate_is_stated_to_the_coolant_that_enters():
    model = build(CASE.with_option("liquid"))
    state = solve_steady(model)

    def at(address: str) -> float:
        return float(state.temperature[model.numbers(address)[-1]])

    watts = (at("part.processor") - at("block.processor")) / 0.02
    flow = 6e4 * state.conditions.loops["main"].flows["pump"]
    expected = watts * 0.09 * (flow / 1.5) ** -0.4
    assert at("block.processor") - at("hose.out") == pytest.approx(expected, rel=1e-6)


def test_blocks_side_by_side_starve_the_pin_plate():
    series, branches = steady("liquid"), steady("liquid, two blocks side by side")
    elements = branches["coolant"]["main"]["elements"]
    flows = {name: element["flow_l_per_min"] for name, element in elements.items()}
    assert flows["block.processor"] < 0.5 * flows["block.power_stage"]
    assert flows["block.processor"] + flows["block.power_stage"] == pytest.approx(flows["hose.out"])
    assert degc(branches, "processor") > degc(series, "processor") + 1


def test_no_cheap_trial_makes_it_quieter():
    air, liquid = steady(None), steady("liquid")
    benefit = degc(air, "processor") - degc(liquid, "processor")
    for name in ("better paste", "chilled inlet", "fans at full speed"):
        trial = steady(name)
        assert 0 < degc(air, "processor") - degc(trial, "processor") < 0.25 * benefit
        assert trial["noise"]["sources_dba"] >= air["noise"]["sources_dba"]
        assert "quiet" in failed(trial)


@pytest.mark.parametrize(
    ("option", "battery", "holds"),
    [
        ("air, hot room", 42, True),
        ("air, hot room, clogged filter", 46, False),
        ("liquid, hot room", 39, True),
        ("liquid, hot room, clogged filter", 42, True),
    ],
)
def test_battery_in_a_hot_room(option, battery, holds):
    found = steady(option)
    assert degc(found, "battery") == pytest.approx(battery, abs=4)
    assert (degc(found, "battery") < 45) is holds
    assert failed(found) - {"quiet"} == (set() if holds else {"battery limit"})


def test_two_heat_pipes_cannot_carry_it_and_three_have_too_little_in_hand():
    two, three = (steady(name)["heat_pipes"]["main"] for name in ("two heat pipes", "three heat pipes"))
    assert two["capacity_w"] == pytest.approx(2 * 38 * 0.7 * 0.9**2)  # 43 W against some 55
    assert two["load_w"] == pytest.approx(55, rel=0.05)
    assert two["margin"] < 1 < three["margin"] < 1.3
    assert not two["carries"]
    assert not three["carries"]


def test_the_cooler_s_fan_stirs_and_brings_no_air():
    running, stopped = steady(None), steady(None, "fan.cooler.speed=0 %")
    assert degc(stopped, "processor") > 80
    assert stopped["air"]["main"]["flow_m3_per_h"] == running["air"]["main"]["flow_m3_per_h"]
    # all the processor's heat still passes the battery
    assert degc(stopped, "battery") == pytest.approx(degc(running, "battery"), abs=0.3)
    with pytest.raises(CaseError, match="returns goes with an inlet from another airway"):
        CASE.with_changes({"airway.cooler.inlet": "room"})


def test_minutes_after_the_pump_stops():
    history = run(CASE.with_option("liquid, pump stops")).summary["parts"]["processor"]
    # warm-up: time constant 2370 J/K over 11.6 W/K, 5.8 K down to 0.5 K in 8.3 min
    assert history["warm_up_s"] == pytest.approx(8.5 * 60, rel=0.1)
    # no sooner than without any way out: 46 K · 130 J/K / 55 W = 109 s; stagnant coolant takes some
    assert 109 < history["over_limit_at_s"] - 3600 < 180


def test_the_comparison_takes_liquid_and_says_what_cheap_steps_leave(tmp_path):
    short = CASE.with_changes(("run.duration=1 s", "run.frames=2"))
    designs = ["base", "chilled inlet", "liquid", LIQUID_TWIN, "two heat pipes"]
    told = compare_study(short, tmp_path, designs, draws=0)[1]
    ranked = {one["option"]: one for one in told["decision"]["ranking"]}
    assert list(ranked) == ["liquid", LIQUID_TWIN]
    assert ranked[LIQUID_TWIN]["ties_with_first"]
    # 2 × 38 W × 0.7 flattened × 0.9² bent = 43 W, under 55 W
    assert told["decision"]["must_haves"]["two heat pipes"]["failed"][0]["of"] == "heat pipe"
    chilled = told["trials"][0]
    # 62 °C by air, 34 by liquid, and 23 − 17 = 6 K less by chilled air; no fan slows, so it is no quieter
    assert chilled["frozen"]["parts"]["processor"]["share"] == pytest.approx(6 / 28, abs=0.03)
    assert chilled["live"]["noise"]["share"] == pytest.approx(0.0, abs=1e-9)
    # the drives keep their air and lose half of it
    assert chilled["frozen"]["parts"]["storage_left"]["why"] == LIQUID_IS_WORSE
    # a full chord is the worst the processor sees
    spell = told["states"]["options"]["base"]["peak"]["parts_degc"]["processor"]
    assert degc(steady(None), "processor") + 3 < spell < 80

"""What sweeps teach of the demos: which input matters, which does not, and that only liquid is sure to pass.

These are regression checks of the invented demos, not checks of physics.
"""

from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest

from thermsim.case import load_case
from thermsim.studies.sweep.one import read_line
from thermsim.studies.sweep.study import follow, sweep

CASES = Path(__file__).parents[2] / "cases"


@cache
def swept(name: str, option: str | None) -> dict:
    return sweep(load_case(CASES / name, option, {"run.cell": "10 mm"}), mkdtemp(prefix="thermsim-"), 64)


def effects(facts: dict, name: str) -> dict[str, float]:
    """What each input's high end does to an output."""
    return {row["input"]: row["effects"][name][1] for row in facts["tornado"]["rows"]}


def test_the_governor_turns_things_round():
    # what makes the processor cooler slows the fans: quieter, and warmer where nobody watches
    noise, preamp = (effects(swept("digitiser", None), name) for name in ("noise", "part.preamp_right"))
    assert noise["sink"] > 2
    assert noise["processor"] > 2
    assert preamp["sink"] < 0
    assert preamp["processor"] < 0
    assert abs(effects(swept("digitiser", None), "part.fpga")["sink"]) < 1e-3
    assert abs(preamp["paste"]) < 0.3  # a little paste is not what decides


def test_air_is_sure_to_fail_and_the_hybrid_all_but_sure_to_pass():
    air, hybrid = (swept("digitiser", option)["samples"] for option in (None, "hybrid"))
    assert air["all_pass_probability"] < 0.05
    assert hybrid["all_pass_probability"] > 0.85
    assert {one["of"] for one in hybrid["drivers"]} <= {"preamp_right limit", "preamp_left limit", "worst margin"}
    assert hybrid["in_full"] + air["in_full"] < 6


def test_the_organ_by_liquid_is_decided_by_how_loud_its_fans_are():
    samples = swept("organ", "liquid")["samples"]
    assert 0.7 < samples["all_pass_probability"] < 1
    assert samples["drivers"][0]["of"] == "quiet"
    assert samples["drivers"][0]["input"] == "fan noise"
    assert samples["outputs"]["part.battery"]["pass_probability"] == 1


def test_more_watts_are_louder_until_the_fans_can_no_more():
    case = load_case(CASES / "digitiser", changes={"run.cell": "10 mm"})
    one = follow(case, mkdtemp(prefix="thermsim-"), read_line(case, "part.fpga.watts", "9 W", "19 W", 5))["one"]
    speeds = [state["speeds"]["fan.pair"] for state in one["states"]]
    assert speeds == sorted(speeds)
    assert speeds[-1] == 1.0
    assert one["first"]["name"] == "quiet"
    assert one["first"]["at"] == pytest.approx(10.4, abs=0.6)
    assert one["states"][0]["parts_degc"]["fpga"] == pytest.approx(60, abs=1e-3)
    assert one["states"][-1]["parts_degc"]["fpga"] > 65

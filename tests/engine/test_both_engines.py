"""The demos by both engines: the same facts, curves and frames, within what the two state."""

from copy import deepcopy
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from thermsim.case import Case, load_case
from thermsim.store.result import Result
from thermsim.studies.run import run

CASES = Path(__file__).parents[2] / "cases"
COARSE = {name: load_case(CASES / name, changes={"run.cell": cell}) for name, cell in (
    ("digitiser", "8 mm"), ("organ", "10 mm"),
)}  # fmt: skip
BOTH = 2  # either engine has an error of its own
SOON = 0.1  # s after a jump, from when massless nodes are compared
ENERGY = 1e-6  # of the heat
# mishaps that no option of the digitiser holds, each where there is what it stops
MISHAPS = (("digitiser", None, "hot_room"), ("digitiser", "liquid, fans off", "pump_stops"),
           ("digitiser", "liquid, fans off", "radiator_fan_stops"))  # fmt: skip
EVERY = [(name, option, None) for name, case in COARSE.items() for option in (None, *case.options)] + list(MISHAPS)
QUICK = (("digitiser", None, None), ("organ", "liquid, pump stops", None))


def case_of(name: str, option: str | None, mishap: str | None) -> Case:
    case = COARSE[name].with_option(option)
    return case.with_mishaps([mishap]) if mishap else case


@cache
def by_both(name: str, option: str | None, mishap: str | None) -> tuple[Result, Result]:
    case = case_of(name, option, mishap)
    return run(case), run(case, engine="full")


def settled(case: Case, times) -> np.ndarray:
    """Which times are not just after switch-on or a mishap."""
    mishaps = [case.spec.mishap[name] for name in case.mishaps]
    jumps = [0.0, *(m.at for m in mishaps), *(m.ends for m in mishaps if m.ends is not None)]
    since = np.subtract.outer(times, jumps)
    return ((since < 0) | (since >= SOON)).all(axis=1)


def agree(which) -> None:
    """All that is compared, of one case."""
    case, (reduced, full) = case_of(*which), by_both(*which)
    solution = reduced.summary["solution"]
    assert solution["engine"] == "reduced", solution["fell_back"]
    assert full.summary["solution"]["engine"] == "full"
    steady_facts(deepcopy(reduced.summary), deepcopy(full.summary))
    within = BOTH * (solution["indicator_k"] + case.spec.run.tolerance)
    compared = 0
    for group, curves in full.curves.items():
        for name, other in curves.items():
            if other.unit != "degC":
                continue
            mine = reduced.curves[group][name]
            assert (mine.time == other.time).all()
            late = settled(case, other.time)
            assert late.sum() > 600
            assert mine.values[late] == pytest.approx(other.values[late], abs=within), name
            compared += 1
    assert compared > 10
    for address, other in full.fields.items():
        mine = reduced.fields[address]
        assert (mine.time == other.time).all()
        late = settled(case, other.time)
        assert mine.temperature[late] == pytest.approx(other.temperature[late], abs=within, nan_ok=True), address
    assert abs(reduced.summary["energy"]["residual_fraction"]) <= ENERGY
    assert reduced.summary["energy"]["supplied_j"] == pytest.approx(full.summary["energy"]["supplied_j"], rel=1e-4)


def steady_facts(one: dict, other: dict) -> None:
    """What does not depend on the history is the same."""
    for name, part in other["parts"].items():
        for key in ("watts", "steady_degc", "steady_at_end_degc", "limit_degc"):
            assert one["parts"][name][key] == part[key], (name, key)
    for key in ("speeds", "solids", "coolant", "fans"):
        assert one[key] == other[key], key
    loudest, same = (told["noise"].pop("loudest_dba") for told in (one, other))
    assert loudest == pytest.approx(same, abs=0.01)  # this is of the history
    courses = [told["noise"].pop("over_time") or {} for told in (one, other)]
    shares = [{key: value for key, value in course.items() if key.startswith("share")} for course in courses]
    assert shares[0] == pytest.approx(shares[1], abs=0.005)
    assert one["noise"] == other["noise"]
    assert [must["name"] for must in one["must_haves"]] == [must["name"] for must in other["must_haves"]]


@pytest.mark.parametrize("which", QUICK, ids=str)
def test_engines_agree(which):
    agree(which)


@pytest.mark.slow
@pytest.mark.parametrize("which", [which for which in EVERY if which not in QUICK], ids=str)
def test_engines_agree_on_every_option(which):
    agree(which)

"""Steady states told in a few fields are those of the full solver, whatever their governors do."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "studies"))
from small_box import small_box

from thermsim.case import load_case
from thermsim.model.build import build, rebuild
from thermsim.solve.adjoint import Linearised
from thermsim.solve.reduced.steadies import Steadies
from thermsim.solve.steady import solve_steady
from thermsim.studies.settled import Settler
from thermsim.studies.sweep.sampled import Sampler
from thermsim.studies.sweep.sampling import draws, uncertain_inputs
from thermsim.studies.sweep.sensitivity import Sensitivities

CASES = Path(__file__).parents[2] / "cases"
BASE = small_box().with_changes({"governor.g.set_point": "50 degC"})
TOLERANCE = 0.02  # K
VARIANTS = [
    {"airway.main.inlet": "15 degC", "part.chip.watts": "3.2 W"},
    {"film.top.h": "48 W/m2K", "part.chip.to_board": "1.3 K/W"},
    {"part.chip.watts": "1 W"},  # the fan goes to its least speed
    {"part.chip.watts": "5 W"},  # and to its greatest
    {"sheet.board.conductivity": "26 W/mK"},
    {"airway.main.resistance": "0.13 Pa/(m3/h)2", "room.temperature": "24 degC"},
]


@pytest.fixture(scope="module")
def family():
    found = Sensitivities(Settler().settle(BASE), uncertain_inputs(BASE))
    return Sampler(found, TOLERANCE).steadies


@pytest.mark.parametrize("changes", VARIANTS, ids=[", ".join(one) for one in VARIANTS])
def test_told_as_the_full_solver_finds_it(family, changes):
    case = BASE.with_changes(changes)
    told = family.settle(case)
    full = solve_steady(build(case), 300.0)
    assert told is not None
    assert np.abs(told.steady.temperature - full.temperature).max() < told.indicator + 1e-4 < TOLERANCE
    assert told.steady.speeds == pytest.approx(full.speeds, abs=1e-3)


def test_what_is_of_another_make_is_not_told(family):
    assert family.settle(BASE.with_changes({"run.cell": "5 mm"})) is None
    # the speed is held, not governed: another system
    assert family.settle(BASE.with_changes({"governor.g": None})) is None


@pytest.mark.parametrize(("name", "option"), [("digitiser", None), ("digitiser", "hybrid"), ("organ", "liquid")])
def test_samples_of_the_demos_are_told(name, option):
    case = load_case(CASES / name, option, {"run.cell": "12 mm"})
    sampler = Sampler(Sensitivities(Settler().settle(case), uncertain_inputs(case)), TOLERANCE)
    told = [(case.with_changes(draw), sampler.steadies.settle(case.with_changes(draw))) for draw in draws(case, 16)]
    assert sum(found is not None for _, found in told) >= 15
    for changed, found in told[::5]:
        if found is not None:
            full = Settler().settle(changed).steady.temperature
            assert np.abs(found.steady.temperature - full).max() < found.indicator + 1e-4


def test_fields_save_corrections():
    # without its fields the same corrections have further to go, or do not get there at all
    settled = Settler().settle(BASE)
    linear = Linearised(settled.model, settled.steady)
    bare = Steadies(linear, [], TOLERANCE)
    rich = Sampler(Sensitivities(settled, uncertain_inputs(BASE)), TOLERANCE).steadies
    case = BASE.with_changes(VARIANTS[1])
    poor, told = bare.settle(case), rich.settle(case)
    assert told is not None
    assert poor is None or poor.corrections > told.corrections


def test_sheets_of_another_make_are_those_of_a_new_model():
    case = load_case(CASES / "digitiser", "hybrid", {"run.cell": "12 mm"})
    model = build(case)
    for changes in (
        {"sheet.board.conductivity": "31 W/mK"}, {"sheet.lid.thickness": "3 mm"},
        {"plate.main.thickness": "6 mm", "sheet.board.conductivity_y": "12 W/mK"},
    ):  # fmt: skip
        changed = case.with_changes(changes)
        again, anew = rebuild(model, changed), build(changed)
        assert again is not None
        np.testing.assert_allclose(again.capacity, anew.capacity, rtol=1e-12)
        for mine, theirs in zip(again.groups, anew.groups, strict=True):
            assert mine.name == theirs.name
            np.testing.assert_array_equal(mine.receiver, theirs.receiver)
            np.testing.assert_allclose(mine.weight, theirs.weight, rtol=1e-12)
    assert rebuild(model, case.with_changes({"sheet.board.size": "270 x 180 mm"})) is None

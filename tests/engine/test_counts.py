"""What a reduced history takes, in counts that no machine changes: factorisations, solves, size of the basis."""

from pathlib import Path

import numpy as np
import pytest
from courses import reduced_course
from random_boxes import random_case

from tests.benchmarks.box import box
from thermsim.case import load_case
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.record import Recorder, sample_times

CASES = Path(__file__).parents[2] / "cases"
DIGITISER = CASES / "digitiser"
COARSE, FINE = 1000, 4000  # unknowns of the same box at 2 : 1 cells


def told(case):
    """What the summary says of a history, which the reduced engine must have made."""
    with collect_ranges():
        _, taken = reduced_course(case)
    assert taken.fell_back is None
    return taken.told()


@pytest.fixture(scope="module")
def linear():
    return {unknowns: told(box(unknowns)) for unknowns in (COARSE, FINE)}


@pytest.mark.parametrize("unknowns", [COARSE, FINE])
def test_a_linear_box_takes_one_factor(linear, unknowns):
    assert linear[unknowns]["factorisations"] == 1
    assert linear[unknowns]["solves"] <= 24


def test_a_governed_digitiser_takes_few_factors():
    counts = told(load_case(DIGITISER, changes={"run.cell": "8 mm"}))
    assert counts["factorisations"] <= 3
    assert counts["solves"] <= 80


def test_the_basis_does_not_grow_with_the_grid(linear):
    assert linear[FINE]["basis_size"] == pytest.approx(linear[COARSE]["basis_size"], rel=0.4)


@pytest.mark.slow
def test_the_basis_of_the_digitiser_does_not_grow_with_its_grid():
    coarse, fine = (told(load_case(DIGITISER, changes={"run.cell": cell}))["basis_size"] for cell in ("4 mm", "2 mm"))
    assert fine == pytest.approx(coarse, rel=0.4)


BOXES = {
    "benchmark": box(COARSE, "governed"),
    # its hottest place moves through the floor
    "organ": load_case(CASES / "organ", "three heat pipes", {"run.cell": "10 mm"}),
    **{f"random {seed}": random_case(seed) for seed in (3, 36, 55)},
}


@pytest.mark.parametrize("case", BOXES.values(), ids=BOXES)
def test_the_hottest_of_a_sheet_is_that_of_its_field(case):
    # the curve looks at few cells; at frames, between the times its candidates come from, all are there
    with collect_ranges():
        model, taken = reduced_course(case)
        assert taken.fell_back is None
        end = case.spec.run.duration
        frame_times = np.linspace(0, end, 61)
        times = np.union1d(sample_times(end, model.program.breaks), frame_times)
        recorder = Recorder(taken.history.dynamics, frame_times, times)
        frames = [frame for step in taken.steps for frame in recorder.take(step)]
    assert len(frames) == frame_times.size
    at = np.searchsorted(times, frame_times)
    assert model.site.sheets
    for address in model.site.sheets:
        nodes = model.site.ends(address).node
        (values,) = (v for curve, v in recorder.curves.items() if curve.name == f"{address} max")
        expected = [frame.temperature[nodes].max() for frame in frames]
        assert np.array(values)[at] == pytest.approx(expected, abs=0.1 * case.spec.run.tolerance), address
        (means,) = (v for curve, v in recorder.curves.items() if curve.name == f"{address} mean")
        shares = model.site.ends(address).share
        assert np.array(means)[at] == pytest.approx([frame.temperature[nodes] @ shares for frame in frames], abs=1e-8)

"""Warm-up and rate criteria on a single exponential, whose answers are formulas (40 K, time constant 1800 s)."""

import numpy as np
import pytest

from thermsim.solve.settle import CRITERIA, criterion_met, drift, warm_up

TAU = 1800.0
TIMES = np.linspace(0, 14400, 28801)
VALUES = 40 * (1 - np.exp(-TIMES / TAU))


def test_enters_and_stays():
    assert warm_up(TIMES, VALUES, 40.0, 0.5) == pytest.approx(TAU * np.log(80), abs=0.5)


def test_a_reading_that_leaves_again_is_not_warm_yet():
    values = np.where(TIMES < 3000, 40.0, 42.0)  # touches the end value long before it stays there
    values[TIMES >= 9000] = 40.0
    assert warm_up(TIMES, values, 40.0, 0.5) == pytest.approx(9000, abs=1)


def test_a_slow_drift_is_never_called_steady():
    assert warm_up(TIMES, VALUES, 41.0, 0.5) is None


@pytest.mark.parametrize(
    ("name", "time", "residual"),
    [
        # formulas on the exponential: rate 40/τ e^(−t/τ), windows by its differences
        ("2 K/h", 6640.0, 1.000),
        ("2 K in 1 h", 8730.6, 0.313),
        ("3 K in 30 min", 5636.9, 1.746),
        ("1 K in 5 min", 3566.9, 5.514),
    ],
)
def test_rate_criteria_with_what_is_still_to_come(name, time, residual):
    met = criterion_met(TIMES, VALUES, 40.0, CRITERIA[name])
    assert met.time == pytest.approx(time, abs=8)
    assert met.residual == pytest.approx(residual, abs=0.02)


def test_drift_of_a_reading():
    assert drift(np.array([10.0, 40.0]), 40.0, 5e-6, None) == pytest.approx([-150e-6, 0.0])
    assert drift(np.array([33.0, 40.0]), 40.0, None, 7.0) == pytest.approx([-0.5, 0.0])

"""Warm-up by entering and staying, on a single exponential (40 K, time constant 1800 s)."""

import numpy as np
import pytest

from thermsim.solve.settle import drift, warm_up

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


def test_drift_of_a_reading():
    assert drift(np.array([10.0, 40.0]), 40.0, 5e-6, None) == pytest.approx([-150e-6, 0.0])
    assert drift(np.array([33.0, 40.0]), 40.0, None, 7.0) == pytest.approx([-0.5, 0.0])

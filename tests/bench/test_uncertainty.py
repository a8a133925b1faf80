"""Uncertainties combined, against the worked examples of JCGM 100:2008 (the GUM; its data from memory)."""

from __future__ import annotations

from math import cos, inf, isclose, sin, sqrt

import numpy as np
import pytest

from thermsim.bench.rates import line
from thermsim.bench.uncertainty import (
    Component,
    Measured,
    coverage_factor,
    freedom_of_guess,
    holm,
    of_difference,
    propagated,
)


def test_difference_of_two_readings() -> None:
    """JCGM 100, 5.2.2: 0.5 K and 0.5 K that know nothing of each other; fully correlated they cancel."""
    assert of_difference(0.5, 0.5) == pytest.approx(sqrt(0.5))
    assert 2 * of_difference(0.5, 0.5) == pytest.approx(1.414, abs=5e-4)
    assert of_difference(0.5, 0.5, 1.0) == 0
    assert of_difference(0.5, 0.3, 1.0) == pytest.approx(0.2)
    assert of_difference(0.5, 0.5, -1.0) == pytest.approx(1.0)


def test_effective_degrees_of_freedom() -> None:
    """JCGM 100, G.4.1: relative uncertainties 0.25, 0.57, 0.82 % of 10, 5 and 15 readings give 1.03 % and 19.0."""
    parts = tuple(Component(name, u, n - 1) for name, u, n in (("x1", 0.25, 10), ("x2", 0.57, 5), ("x3", 0.82, 15)))
    measured = Measured(100.0, parts)
    assert measured.u == pytest.approx(1.03, abs=0.005)
    assert measured.freedom == pytest.approx(19.0, abs=0.05)
    assert measured.half_width() == pytest.approx(2.09 * 1.03, abs=0.01)  # t95(19) of its table G.2


@pytest.mark.parametrize(("freedom", "t"), [(1, 12.71), (2, 4.30), (4, 2.78), (8, 2.31), (19, 2.09), (inf, 1.960)])
def test_students_t(freedom: float, t: float) -> None:
    """JCGM 100, table G.2."""
    assert coverage_factor(freedom) == pytest.approx(t, abs=0.006)


def test_freedom_of_a_guess() -> None:
    """JCGM 100, G.4.2: known to a quarter, an uncertainty has 8 degrees of freedom."""
    assert freedom_of_guess(0.25) == 8


def test_thermometer_calibration() -> None:
    """JCGM 100, H.3: corrections b of a thermometer, a line in t − 20 °C."""
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])
    found = line(t - 20.0, b, each=1.0)
    assert (found.level, found.u_level) == (pytest.approx(-0.1712, abs=5e-5), pytest.approx(0.0029, abs=5e-5))
    assert (found.slope, found.u_slope) == (pytest.approx(0.00218, abs=5e-6), pytest.approx(0.00067, abs=5e-6))
    assert found.r == pytest.approx(-0.930, abs=5e-4)
    assert found.scatter == pytest.approx(0.0035, abs=5e-5)
    assert found.at(10.0) == (pytest.approx(-0.1494, abs=5e-5), pytest.approx(0.0041, abs=5e-5))


def test_impedance_from_correlated_readings() -> None:
    """JCGM 100, H.2: resistance, reactance and impedance of five sets of volts, milliamperes and phase."""
    volts = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    amps = 1e-3 * np.array([19.663, 19.639, 19.640, 19.685, 19.678])
    phase = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
    sets = np.array([volts, amps, phase])
    v, i, p = sets.mean(axis=1)
    u = sets.std(axis=1, ddof=1) / sqrt(5)
    r = np.corrcoef(sets)
    slopes = {
        "R": (cos(p) / i, -v * cos(p) / i**2, -v / i * sin(p)),
        "X": (sin(p) / i, -v * sin(p) / i**2, v / i * cos(p)),
        "Z": (1 / i, -v / i**2, 0.0),
    }
    assert v / i * cos(p) == pytest.approx(127.732, abs=1e-3)
    assert propagated(slopes["R"], u, r) == pytest.approx(0.071, abs=5e-4)
    assert v / i * sin(p) == pytest.approx(219.847, abs=1e-3)
    assert propagated(slopes["X"], u, r) == pytest.approx(0.295, abs=1.5e-3)
    assert v / i == pytest.approx(254.260, abs=1e-3)
    assert propagated(slopes["Z"], u, r) == pytest.approx(0.236, abs=5e-4)


def test_holm_of_several_questions() -> None:
    """S. Holm (1979): smallest times four, next times three, never below one before; at most 1."""
    found = holm([0.01, 0.04, 0.03, 0.005])
    assert all(isclose(a, b) for a, b in zip(found, [0.03, 0.06, 0.06, 0.02], strict=True))
    assert holm([0.9, 0.8]) == [1.0, 1.0]
    assert holm([]) == []


def test_chance_and_interval_agree() -> None:
    """The 95 % interval just touches zero where chance is 5 %."""
    one = Measured(2.776, (Component("scatter", 1.0, 4),))
    assert one.chance == pytest.approx(0.05, abs=2e-4)
    assert one.half_width() == pytest.approx(2.776, abs=1e-3)
    assert Measured(0.0, ()).chance == 1.0
    assert Measured(0.1, ()).chance == 0.0

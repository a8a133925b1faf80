"""Slopes of noisy logs: known lines, known least squares, and how often the stated interval holds the truth."""

import numpy as np
import pytest
from scipy.signal import lfilter
from scipy.stats import linregress, t

from thermsim.bench.trend import MOST, averaged, trend

SECONDS = 10.0


def wander(rng, count, phi):
    """A stationary first-order autoregression of variance 1."""
    steps = rng.normal(size=count) * np.sqrt(1 - phi**2)
    steps[0] = rng.normal()
    return lfilter([1], [1, -phi], steps)


def coverage(count, phi, white, runs, seed):
    rng, time = np.random.default_rng(seed), SECONDS * np.arange(count)
    inside = 0
    for _ in range(runs):
        found = trend(time, 0.003 * time + wander(rng, count, phi) + white * rng.normal(size=count))
        inside += abs(found.slope - 0.003) <= t.ppf(0.975, found.freedom) * found.u_slope
    return inside / runs


@pytest.mark.parametrize(("phi", "white"), [(0.5, 0.0), (0.8, 0.0), (0.9, 1.0), (0.9, 3.0)])
def test_interval_holds_the_slope(phi, white):
    # the definition of a coverage interval, JCGM 100 6.2.2: 95 % of them, here 93 to 97 %
    assert 0.93 <= coverage(180, phi, white, 500, 11) <= 0.97


def test_slow_wander_is_held_rather_too_often():
    # nine independent readings' worth: how slow the wander is, is hardly known
    assert 0.95 <= coverage(180, 0.9, 0.0, 300, 12) <= 0.99


def test_least_squares_would_be_far_too_sure():
    rng, time = np.random.default_rng(5), SECONDS * np.arange(180)
    values = wander(rng, 180, 0.9)
    assert trend(time, values).u_slope > 2.5 * linregress(time, values).stderr


def test_agrees_with_least_squares_on_white_noise():
    # scipy.stats.linregress; the wider uncertainty is what is not known of the noise
    rng, time = np.random.default_rng(3), SECONDS * np.arange(200)
    values = 5.0 - 0.02 * time + rng.normal(size=200)
    found, known = trend(time, values), linregress(time, values)
    assert found.slope == pytest.approx(known.slope, abs=0.3 * known.stderr)
    assert known.stderr < found.u_slope < 1.6 * known.stderr
    assert found.at(found.middle) == pytest.approx(values.mean(), abs=0.1)


def test_a_line_without_noise():
    time = SECONDS * np.arange(50)
    found = trend(time, 7.0 - 0.25 * time)
    assert found.slope == pytest.approx(-0.25, rel=1e-9)
    assert found.u_slope == pytest.approx(0.0, abs=1e-9)


def test_gaps_and_thousands_of_readings():
    rng = np.random.default_rng(8)
    time = np.arange(5000.0)
    time = time[(time < 1500) | (time > 2600)]
    found = trend(time, 0.01 * time + wander(rng, time.size, 0.95))
    assert abs(found.slope - 0.01) < 3 * found.u_slope
    means = averaged(time, time)
    assert means[0].size <= MOST
    np.testing.assert_allclose(means[0], means[1])


def test_readings_at_almost_the_same_time():
    # two stamps a picosecond apart tell of the wander between them: nothing
    rng, time = np.random.default_rng(3), np.arange(0.0, 1800.0, 30.0)
    values = 5.0 + 1e-3 * time + 0.1 * rng.standard_normal(time.size)
    plain = trend(time, values)
    twice = trend(np.insert(time, 30, time[29] + 1e-12), np.insert(values, 30, values[29]))
    assert twice.slope == pytest.approx(plain.slope, abs=plain.u_slope)
    assert 0.5 * plain.u_slope < twice.u_slope < 2 * plain.u_slope

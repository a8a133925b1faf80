"""Least squares and step responses against certified and worked values."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from thermsim.bench.fit.exponentials import fit_exponentials
from thermsim.bench.fit.least_squares import correlations, least_squares
from thermsim.bench.fit.step_response import TooShort, step_response

# NIST Statistical Reference Datasets, nonlinear regression: Misra1a (dental research, Misra 1978)
MISRA_X = np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0])
MISRA_Y = np.array([
    10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78,
])  # fmt: skip
# NIST Statistical Reference Datasets, nonlinear regression: MGH10 (a thermistor, Meyer 1970)
MGH_X = np.arange(50.0, 126.0, 5.0)
MGH_Y = np.array([
    34780, 28610, 23650, 19630, 16370, 13720, 11540, 9744, 8261, 7030, 6005, 5147, 4427, 3820, 3307, 2872,
], dtype=float)  # fmt: skip


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)])  # both certified start points
def test_misra1a(start):
    found = least_squares(lambda b: b[0] * (1 - np.exp(-b[1] * MISRA_X)) - MISRA_Y, np.array(start))
    assert found.converged
    assert found.values == pytest.approx([238.94212918, 5.5015643181e-4], rel=1e-6)
    assert found.standard_errors == pytest.approx([2.7070075, 7.2668688e-6], rel=1e-4)
    assert found.squares == pytest.approx(0.12455138894, rel=1e-8)
    assert np.sqrt(found.variance) == pytest.approx(0.10187876330, rel=1e-8)  # certified residual standard deviation


@pytest.mark.parametrize("start", [(2.0, 400_000.0, 25_000.0), (0.02, 4000.0, 250.0)])
def test_mgh10_in_logarithms_of_what_is_positive(start):
    def residuals(u):
        b = np.exp(u)
        return b[0] * np.exp(b[1] / (MGH_X + b[2])) - MGH_Y

    found = least_squares(residuals, np.log(start))
    values = np.exp(found.values)
    assert values == pytest.approx([5.6096364710e-3, 6181.3463463, 345.22363462], rel=1e-7)
    assert values * found.standard_errors == pytest.approx([1.5687892471e-4, 23.309021107, 0.78486103508], rel=1e-5)
    assert found.squares == pytest.approx(87.945855171, rel=1e-9)


def test_a_line_as_the_guide_to_uncertainty_has_it():
    # JCGM 100:2008, H.3: calibration of a thermometer (data from memory, published results reproduced)
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]) - 20
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])
    found = least_squares(lambda y: y[0] + y[1] * t - b, np.zeros(2))
    assert found.values == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    assert found.standard_errors == pytest.approx([0.0029, 0.00067], abs=5e-5)
    assert correlations(found.covariance)[0, 1] == pytest.approx(-0.930, abs=5e-4)
    assert np.sqrt(found.variance) == pytest.approx(0.0035, abs=5e-5)


def test_misra1a_as_a_step_response_of_less_than_half_a_time_constant():
    x, y = np.r_[0.0, MISRA_X], np.r_[0.0, MISRA_Y]
    found = step_response(x, y, starts_at=0.0, most=1)
    assert found.end.value == pytest.approx(238.94212918, rel=1e-6)
    assert found.time_constants[0].value == pytest.approx(1 / 5.5015643181e-4, rel=1e-6)  # 1817.66 s
    assert found.length == pytest.approx(0.418, abs=0.001)
    assert found.is_extrapolated
    # the certified standard error is for independent readings; these repeat each other
    assert found.end.standard > 2.7070075
    low, high = found.interval()
    assert low < 238.94 < high


# Two bodies of 50 and 1000 J/K joined by 2 W/K, the second by 1 W/K to the room, 20 W in the first: 2 × 2 eigenvalues
SLOW, QUICK, STEADY = 1051.218, 23.782, 30.0
CURVE = {10: 3.3012, 60: 9.4763, 300: 14.2427, 1000: 21.9037, 3000: 28.7921}


def two_bodies(time):
    matrix = np.array([[-2 / 50, 2 / 50], [2 / 1000, -3 / 1000]])
    values, vectors = np.linalg.eig(matrix)
    parts = np.linalg.solve(vectors, -np.array([30.0, 20.0]))
    return 30.0 + (vectors[0] * parts * np.exp(np.outer(time, values))).sum(axis=1)


def test_both_time_constants_of_two_bodies_are_recovered():
    assert two_bodies(np.array(list(CURVE))) == pytest.approx(list(CURVE.values()), abs=1e-4)
    time = np.arange(0.0, 4000.0, 5.0)
    found = fit_exponentials(time, two_bodies(time), 2)
    assert found.end == pytest.approx(STEADY, abs=1e-5)
    assert found.time_constants == pytest.approx([QUICK, SLOW], rel=1e-4)


def test_and_from_noisy_readings_within_their_uncertainty():
    time = np.arange(0.0, 3600.0, 10.0)
    noise = 0.05 * np.random.default_rng(2).standard_normal(time.size)
    found = step_response(time, two_bodies(time) + noise, noise=0.05)
    assert found.kind == "two exponentials"
    for told, true in zip((*found.time_constants, found.end), (QUICK, SLOW, STEADY), strict=True):
        assert abs(told.value - true) < 3 * told.standard
        assert told.standard < 0.05 * true
    assert found.still_to_come.value == pytest.approx(STEADY - two_bodies(time[-1:])[0], abs=0.05)


def test_a_body_under_swinging_watts_tells_its_capacity_and_conductance():
    # 300 J/K, 2 W/K, 40 W (1 + sin ωt) every 900 s: mean 20 K, amplitude 13.8124 K, lag 115.80 s (closed form)
    omega, time = 2 * np.pi / 900, np.arange(3600.0, 7200.0, 20.0)
    rise = 20 + 13.8124 * np.sin(omega * (time - 115.80))

    def residuals(u):
        capacity, conductance = np.exp(u)
        amplitude = 40 / np.hypot(conductance, omega * capacity)
        lag = np.arctan2(omega * capacity, conductance) / omega
        return 40 / conductance + amplitude * np.sin(omega * (time - lag)) - rise

    found = least_squares(residuals, np.log([1000.0, 0.7]))
    assert np.exp(found.values) == pytest.approx([300.0, 2.0], rel=1e-4)


def repeating(rng, size, rho):
    """Noise of variance 1, a first-order autoregression."""
    news = rng.standard_normal(size)
    news[1:] *= np.sqrt(1 - rho**2)
    return lfilter([1], [1, -rho], news)


@pytest.mark.slow
@pytest.mark.parametrize("rho", [0.0, 0.7])
@pytest.mark.parametrize("length", [3600.0, 900.0])
def test_ends_are_covered_as_often_as_stated(rho, length):
    rng, time, hits = np.random.default_rng(8), np.arange(0.0, length, 10.0), 0
    for _ in range(200):
        found = step_response(time, 40 - 15 * np.exp(-time / 600) + 0.05 * repeating(rng, time.size, rho))
        low, high = replace(found, form=0.0).interval()  # here the form is known
        hits += low <= 40 <= high
        assert found.end.standard >= replace(found, form=0.0).end.standard
    assert 0.91 <= hits / 200 <= 0.995


def test_a_record_is_not_flat_because_one_exponential_fits_it_badly():
    # in noise that repeats itself over a minute one exponential left so much that none was no worse
    rng, time = np.random.default_rng(11), np.arange(0.0, 1200.1, 10.0)
    curve = 50 - 30 * (0.3 * np.exp(-time / 80) + 0.7 * np.exp(-time / 700))
    for _ in range(60):
        found = step_response(time, curve + 0.05 * repeating(rng, time.size, np.exp(-1 / 6)))
        assert found.kind == "two exponentials"


@pytest.mark.parametrize("minutes", [20, 40])  # one and a half of its slowest time constant, and three
def test_ends_of_a_body_of_many_time_constants_are_covered(minutes):
    # a chain of eight bodies, by its eigenvalues: far more time constants than the curve has
    links = 0.4 * (2 * np.eye(8) - np.eye(8, k=1) - np.eye(8, k=-1))
    links[0, 0], links[-1, -1] = 0.4, 0.4 + 0.2
    capacity = np.geomspace(4.0, 25.0, 8)
    rates, turn = np.linalg.eig(links / capacity[:, None])
    steady = np.linalg.solve(links, np.eye(8)[0] * 6.0)
    time = np.arange(0.0, 60.0 * minutes + 1, 10.0)
    parts = np.linalg.solve(turn, steady)
    rng = np.random.default_rng(5)
    for body in (0, 3):
        curve = steady[body] - (turn[body] * parts * np.exp(-np.outer(time, rates))).sum(axis=1)
        hits = stated = 0
        for _ in range(25):
            found = step_response(time, curve + 0.05 * rng.standard_normal(time.size))
            low, high = found.interval()
            hits += low <= steady[body] <= high
            stated += high - low < 0.5 * steady[body]
        assert hits >= 20, body
        assert stated >= 20  # and not by an interval that says nothing


def test_what_does_not_change_is_told_as_such():
    time = np.arange(0.0, 600.0, 5.0)
    found = step_response(time, 22 + 0.05 * np.random.default_rng(1).standard_normal(time.size))
    assert found.kind == "no change"
    assert found.end.value == pytest.approx(22, abs=0.02)
    assert found.facts()["length_in_time_constants"] is None


def test_too_few_readings_are_refused():
    with pytest.raises(TooShort, match="3 readings are too few"):
        step_response(np.arange(5.0), np.array([1.0, np.nan, 2.0, np.nan, 3.0]))

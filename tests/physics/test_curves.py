"""Fan and pump curves: the affinity laws and operating points with closed forms."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from thermsim.physics.curves import PressureCurve, meeting_flow

FLOW = np.linspace(0.0, 50.0, 101)
PARABOLA = PressureCurve(FLOW, 60.0 - 0.024 * FLOW**2)


def operating_flow(curve, system, speed=1.0, parallel=1, series=1, density_ratio=1.0):
    """Where a scaled curve meets a system, m³/s."""
    available = curve.scaled(speed, parallel, series, density_ratio)
    return meeting_flow(available, system, curve.flow[-1] * max(speed, 0.1) * parallel)


@pytest.mark.parametrize("speed", [1.0, 0.5, 0.07])
def test_operating_point_of_parabolas(speed):
    # p0 - aV² = bV²: V = √(p0/(a + b)); at other speeds flow as n
    flow = operating_flow(PARABOLA, lambda v: 0.05 * v * v, speed)
    assert flow == pytest.approx(28.4747 * speed, rel=1e-5)
    assert PARABOLA.scaled(speed)(flow) == pytest.approx(40.5405 * speed**2, rel=1e-5)


def test_affinity_laws():
    # x1.2 speed: flow 1.2, pressure 1.44, so power 1.728; ASHRAE Handbook: HVAC Systems and Equipment
    fast = PARABOLA.scaled(1.2)
    assert fast(1.2 * 20.0) == pytest.approx(1.44 * PARABOLA.at(20.0))
    assert fast(1.2 * 20.0) * 1.2 * 20.0 == pytest.approx(1.728 * PARABOLA.at(20.0) * 20.0)


def test_parallel_series_and_thin_air():
    assert PARABOLA.scaled(1.0, count_parallel=2)(40.0) == pytest.approx(PARABOLA.at(20.0))
    assert PARABOLA.scaled(1.0, count_series=2)(20.0) == pytest.approx(2 * PARABOLA.at(20.0))
    assert PARABOLA.scaled(1.0, density_ratio=0.7)(20.0) == pytest.approx(0.7 * PARABOLA.at(20.0))
    # two in parallel: p0 - a(V/2)² = bV²
    assert operating_flow(PARABOLA, lambda v: 0.05 * v * v, parallel=2) == pytest.approx(sqrt(60 / 0.056), rel=1e-5)
    # thin air thins the quadratic resistance alike: same flow
    thin = operating_flow(PARABOLA, lambda v: 0.7 * 0.05 * v * v, density_ratio=0.7)
    assert thin == pytest.approx(28.4747, rel=1e-5)


def test_evaluation_equals_scipy():
    flow, pressure = [0.0, 1.0, 2.5, 4.0, 7.0], [50.0, 49.0, 30.0, 28.0, 0.0]
    curve, reference = PressureCurve(flow, pressure), PchipInterpolator(flow, pressure)
    for value in np.linspace(0.0, 6.999, 57):
        assert curve.at(value) == pytest.approx(float(reference(value)), abs=1e-12)
    assert [curve.at(f) for f in flow] == pytest.approx(pressure)


def test_beyond_the_last_flow_the_pressure_turns_negative():
    curve = PressureCurve([0.0, 1.0, 2.0], [50.0, 40.0, 0.0])
    steps = np.diff([curve.at(f) for f in (2.0, 3.0, 4.0)])
    assert curve.at(2.0) == 0.0
    assert steps[0] == pytest.approx(steps[1])
    assert steps[0] < 0.0
    flat = PressureCurve([0.0, 1.0, 2.0], [50.0, 50.0, 50.0])
    assert flat.at(4.0) == pytest.approx(0.0)


def test_the_straight_end_carries_on_the_last_slope():
    flow, pressure = [0.0, 1.0, 2.0], [50.0, 40.0, 0.0]
    curve = PressureCurve(flow, pressure)
    slope = float(PchipInterpolator(flow, pressure).derivative()(2.0))
    assert curve.at(3.0) == pytest.approx(slope)


def test_reverse_flow_needs_more_than_shut_off_pressure():
    flow, pressure = [0.0, 1.0, 2.0], [50.0, 30.0, 0.0]
    slope = float(PchipInterpolator(flow, pressure).derivative()(0.0))
    assert slope < 0.0
    assert PressureCurve(flow, pressure).at(-2.0) == pytest.approx(50.0 - 2.0 * slope)


def test_a_weak_fan_is_still_a_fan():
    weak = PressureCurve([0.0, 1.0], [0.5, 0.0])
    assert operating_flow(weak, lambda v: 0.5 * v) == pytest.approx(0.5)


def test_flow_beyond_the_curve_where_nothing_resists():
    curve = PressureCurve([0.0, 1.0], [50.0, 20.0])
    # the straight line goes on: -50 Pa for each unit, so zero at 1.4
    assert operating_flow(curve, lambda v: 0.0) == pytest.approx(1.4)


def test_small_root_is_relative():
    # nearly blocked: 60 = b V², with b 1e12
    flow = operating_flow(PARABOLA, lambda v: 1e12 * v * v)
    assert flow == pytest.approx(sqrt(60.0 / 1e12), rel=1e-9)


def test_no_speed_and_too_high_a_head_give_no_flow():
    assert operating_flow(PARABOLA, lambda v: v, speed=0.0) == 0.0
    assert PARABOLA.scaled(0.0)(3.0) == 0.0
    assert operating_flow(PARABOLA, lambda v: 61.0 + v) == 0.0


@given(st.floats(0.05, 2.0), st.floats(1e-3, 1e3), st.integers(1, 4), st.integers(1, 3))
def test_pressures_balance_at_the_operating_point(speed, resistance, parallel, series):
    flow = operating_flow(PARABOLA, lambda v: resistance * v, speed, parallel, series)
    supplied = PARABOLA.scaled(speed, parallel, series)(flow)
    assert supplied == pytest.approx(resistance * flow, rel=1e-7)


@pytest.mark.parametrize(
    ("flow", "pressure", "message"),
    [
        ([0.0], [1.0], "two points"),
        ([0.0, 1.0], [1.0], "as many pressures"),
        ([0.0, 1.0, 1.0], [3.0, 2.0, 1.0], "rise from point to point"),
        ([-1.0, 1.0], [3.0, 2.0], "zero or above"),
        ([0.0, 1.0, 2.0], [3.0, 2.0, 2.5], "must not rise"),
        ([0.0, 1.0], [3.0, -1.0], "not end below zero"),
        ([0.0, 1.0], [0.0, 0.0], "positive pressure"),
    ],
)
def test_unusable_curves(flow, pressure, message):
    with pytest.raises(ValueError, match=message):
        PressureCurve(flow, pressure)

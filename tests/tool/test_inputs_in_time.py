"""Inputs that change with time: the joules put in equal the integral of the watts asked for (by hand)."""

import numpy as np
import pytest
from plain_cases import case_of, film, part, sheet
from scipy.integrate import trapezoid

from thermsim.model.build import build
from thermsim.solve.transient import Transient


def joules(duty: dict, **more) -> float:
    case = case_of(sheet={"b": sheet()}, part={"p": part(**more)}, film={"t": film()}, duty={"d": duty})
    return sum(step.supplied for step in Transient.of(build(case)).steps(600))


def integral(times: list[float], watts: list[float], repeat: float, ramp: bool) -> float:
    """Of 600 s, by the midpoints of 0.1 ms."""
    t = (np.arange(6_000_000) + 0.5) * 1e-4 % repeat
    if ramp:
        return float(np.interp(t, times, watts).sum() * 1e-4)
    return float(np.asarray(watts)[np.maximum(np.searchsorted(times, t, side="right") - 1, 0)].sum() * 1e-4)


@pytest.mark.parametrize("shape", ["step", "ramp"])
@pytest.mark.parametrize(
    ("times", "watts", "repeat"),
    [([0, 30, 50], [2, 8, 1], 70), ([10, 30], [2, 8], 45)],
    ids=["from zero", "first point late"],
)
def test_repeated_duty(times, watts, repeat, shape):
    points = [f"{t} s, {w} W" for t, w in zip(times, watts, strict=True)]
    found = joules({"of": "part.p.watts", "points": points, "repeat": f"{repeat} s", "shape": shape})
    assert found == pytest.approx(integral(times, watts, repeat, shape == "ramp"), rel=1e-6)


def test_repeated_states_with_a_late_first_point():
    duty = {"of": "state", "points": ["20 s, work", "100 s, idle"], "repeat": "160 s"}
    # before its first point a state duty is in its first state: three whole cycles and 120 s
    by_hand = 3 * (100 * 5 + 60 * 1) + 100 * 5 + 20 * 1
    assert joules(duty, watts={"idle": "1 W", "work": "5 W"}) == pytest.approx(by_hand, rel=1e-6)


def test_a_fast_swing_is_not_overlooked_by_a_slow_box():
    swing = {"of": "part.p.watts", "sine": {"mean": "3 W", "amplitude": "2 W", "period": "20 s"}}
    assert joules(swing, heat_capacity="2000 J/K") == pytest.approx(3 * 600, rel=1e-4)


def test_a_fine_ramp_is_not_overlooked_by_a_slow_box():
    times = np.arange(0, 601, 5.0)
    watts = np.where(np.arange(times.size) % 2, 8.0, 1.0) * (1 + times / 600)
    ramp = {"of": "part.p.watts", "points": [f"{t} s, {w} W" for t, w in zip(times, watts, strict=True)]}
    found = joules(ramp | {"shape": "ramp"}, heat_capacity="2000 J/K")
    assert found == pytest.approx(trapezoid(watts, times), rel=1e-3)

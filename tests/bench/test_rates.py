"""Rates and steadiness from readings, against a single exponential whose every crossing can be written down."""

from __future__ import annotations

import numpy as np
import pytest

from thermsim.bench.rates import all_met, line, slopes, smooth

END, TAU = 40.0, 1800.0
TIME = np.arange(0.0, 4 * 3600.0, 10.0)
RISE = END * (1.0 - np.exp(-TIME / TAU))

# 40 K, time constant 1800 s: t = τ ln(40 K/τ / rate), or where 40 K (e^(w/τ) − 1) e^(−t/τ) falls to the change
CROSSINGS = {
    "2 K/h": (6640.0, 1.000),  # IEC 60034-1: what is to come is exactly rate times τ
    "2 K in 1 h": (8730.6, 0.313),
    "3 K in 30 min": (5636.9, 1.746),  # IEC 62368-1
    "1 K in 5 min": (3566.9, 5.514),
}


@pytest.mark.parametrize("name", CROSSINGS)
def test_when_a_single_exponential_is_steady(name: str) -> None:
    """Time and what is still to come: a line through a quarter of an hour adds 11 s to a rate's."""
    time, to_come = CROSSINGS[name]
    met = all_met(TIME, RISE, END)[name]
    assert met.time == pytest.approx(time, abs=15.0)
    assert met.residual == pytest.approx(to_come, rel=0.012)


def test_noise_does_not_move_the_crossings_much() -> None:
    """A probe of 0.05 K: the rate of a quarter of an hour is good to some 0.1 K/h, a minute's mean to 0.02 K."""
    noisy = RISE + np.random.default_rng(3).normal(0.0, 0.05, TIME.size)
    met = all_met(TIME, noisy, END)
    assert met["2 K/h"].time == pytest.approx(6640.0, abs=300.0)
    assert met["1 K in 5 min"].time == pytest.approx(3566.9, abs=150.0)


def test_a_noisy_probe_is_not_taken_for_a_rate() -> None:
    """Half a kelvin makes 0.7 K/h of a quarter of an hour's line: that would be 50 min late by 2 K/h, 40 by 1 K."""
    noisy = RISE + np.random.default_rng(3).normal(0.0, 0.5, TIME.size)
    met = all_met(TIME, noisy, END)
    assert met["2 K/h"].time == pytest.approx(6640.0, abs=900.0)
    assert met["1 K in 5 min"].time == pytest.approx(3566.9, abs=1100.0)


def test_never_steady() -> None:
    """A ramp of 3 K/h meets no rate, and no change over an hour."""
    met = all_met(TIME, 3.0 * TIME / 3600.0, 10.0)
    assert met["2 K/h"].time is None
    assert met["2 K in 1 h"].time is None
    assert met["3 K in 30 min"].time is not None


def test_slopes_take_gaps() -> None:
    """A line's slope is the same whatever readings are missing; from a short record there is none."""
    kept = np.random.default_rng(1).random(TIME.size) < 0.6
    middles, found = slopes(TIME[kept], 2.0 + 0.01 * TIME[kept])
    assert found == pytest.approx(0.01)
    assert middles[0] == pytest.approx(450.0, abs=40.0)
    assert slopes(TIME[:20], RISE[:20])[0].size == 0


def test_smooth_keeps_the_start_and_calms_the_end() -> None:
    """No lag where readings move fast; the last reading is the mean of those behind it."""
    even = smooth(TIME, RISE, 120.0)
    assert even[0] == RISE[0]
    assert np.abs(even - RISE)[: TIME.size // 2].max() < 0.02
    assert smooth(TIME, np.r_[0.0 * TIME[:-1], 7.0], 120.0)[-1] == pytest.approx(1.0)
    assert smooth(np.empty(0), np.empty(0)).size == 0


def test_a_line_through_repeated_readings_is_less_sure() -> None:
    """Readings of which each is given ten times are worth a tenth: √10 wider (known, here)."""
    x = np.arange(50.0)
    y = np.random.default_rng(5).normal(0.0, 1.0, 50)
    once, many = line(x, y, each=1.0), line(np.repeat(x, 10), np.repeat(y, 10), each=10.0)
    assert many.u_slope == pytest.approx(once.u_slope, rel=0.03)
    assert line(np.repeat(x, 10), np.repeat(y, 10)).each > 5.0

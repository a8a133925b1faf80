"""A rate against what is accepted, with a guard band of its uncertainty, and how long to hold for a clear answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from thermsim.bench.leak.decay import VOLUME, WEATHER_NAME, Decay
from thermsim.bench.leak.repeats import Together
from thermsim.bench.uncertainty import coverage_factor

GUARD = 0.9545  # two standard uncertainties, JCGM 100 table G.2; guarded acceptance, JCGM 106:2012 8.3 (from memory)
GAINS = 1.5  # guard bands below nothing, from which on chance is no excuse: three standard uncertainties
LONGEST = 7 * 86400.0  # s
Word = Literal["holds", "leaks", "cannot tell"]


@dataclass(frozen=True)
class Verdict:
    """What a limit makes of a rate."""

    word: Word | None  # None without a limit
    reason: Literal["", "between", "creep", "gains"]
    low: float  # rate less the guard band, Pa·m³/s
    high: float
    hold: float | None = None  # s, until this rate is told from the limit; None where no time is long enough


def judge(test: Decay, rate: Together, limit: float | None) -> Verdict:
    """The verdict on a rate; `test`: the last one, whose gauge and thermometer tell how long to hold.

    What creeps away counts as lost, so a rate that falls from test to test holds, or cannot be told from a leak.
    """
    measured = rate.rate
    guard = coverage_factor(measured.freedom, GUARD) * measured.u
    low, high = measured.value - guard, measured.value + guard
    if limit is None:
        return Verdict(None, "", low, high)
    if measured.value < -GAINS * guard:
        return Verdict("cannot tell", "gains", low, high)
    if high <= limit:
        return Verdict("holds", "", low, high)
    if low > limit:
        return Verdict("cannot tell", "creep", low, high) if rate.course == "fall" else Verdict("leaks", "", low, high)
    guard_after, away = _guard_after(test), abs(measured.value - limit)
    hold = _shortest(lambda time: guard_after(time, measured.value) - away)
    return Verdict("cannot tell", "between", low, high, hold)


def hold_for(test: Decay, limit: float) -> float | None:
    """How long (s) to hold so that a loop without a leak passes 49 times in 50: the guard band is half the limit."""
    guard_after = _guard_after(test)
    return _shortest(lambda time: 2.0 * guard_after(time, 0.0) - limit)


def _guard_after(test: Decay) -> Callable[[float, float], float]:
    """The guard band by time held (s) and rate: readings weigh less the longer, volume and weather do not."""
    span, weather = test.held.span, [one for one in test.inputs if one.what == WEATHER_NAME]
    grows = bool(weather) and "not measured again" in weather[0].how
    steady = weather[0].share if grows else 0.0
    volume = next(one for one in test.inputs if one.what == VOLUME)
    relative = volume.u * abs(volume.slope / test.rate) if test.rate else 0.0
    readings = test.apart_from(VOLUME, *([WEATHER_NAME] if grows else []), "time") * span
    factor = coverage_factor(test.measured.freedom, GUARD)
    return lambda time, rate: factor * sqrt((readings / time) ** 2 + steady**2 + (relative * rate) ** 2)


def _shortest(excess: Callable[[float], float]) -> float | None:
    """The first time (s) at which a falling excess is gone; None if that takes more than a week."""
    from scipy.optimize import brentq

    if excess(LONGEST) > 0:
        return None
    return 1.0 if excess(1.0) <= 0 else float(brentq(excess, 1.0, LONGEST))

"""Several tests of one loop: hoses creep less each time they are held, a leak stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

from thermsim.bench.leak.decay import SCATTER, VOLUME, Decay
from thermsim.bench.uncertainty import Component, Measured

Course = Literal["one test", "agree", "fall", "rise"]
APART = 2.0  # standard uncertainties between two tests


@dataclass(frozen=True)
class Together:
    """The rate that all tests tell of, and how they went from first to last."""

    course: Course
    rate: Measured
    change: float  # from the first test to the last, Pa·m³/s
    u_change: float


def together(tests: Sequence[Decay]) -> Together:
    """One rate from all tests: their mean where they agree, the last where they fall or rise.

    What is wrong with the volume is wrong in all of them; so, on the safe side, are gauge and thermometer.
    """
    first, last = tests[0], tests[-1]
    if len(tests) == 1:
        return Together("one test", last.measured, 0.0, 0.0)
    change = last.rate - first.rate
    u_change = hypot(first.apart_from(VOLUME), last.apart_from(VOLUME))
    if abs(change) > APART * u_change:
        return Together("fall" if change < 0 else "rise", last.measured, change, u_change)
    count = len(tests)
    parts = []
    for number, one in enumerate(last.inputs):
        shares = [test.inputs[number].share for test in tests]
        alone = one.what == SCATTER
        u = sqrt(sum(share**2 for share in shares)) / count if alone else sum(shares) / count
        parts.append(Component(one.what, u, one.freedom * count if alone else one.freedom))
    return Together("agree", Measured(sum(test.rate for test in tests) / count, tuple(parts)), change, u_change)

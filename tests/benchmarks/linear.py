"""Linear systems M dT/dt = P − K T: backward Euler as peers step it, and a fine reference.

The reference is independent of thermsim's stepper: the five-stage, fourth-order, L-stable method with γ = 1/4 of
Hairer & Wanner, Solving Ordinary Differential Equations II, section IV.6, on steps that double with time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from tests.benchmarks.box import END
from thermsim.solve.factor import Factor

Floats = NDArray[np.float64]
Solve = Callable[[Floats], Floats]

DOUBLINGS = 14  # the first time looked at is END / 2**14, a tenth of a second
TIMES = np.sort([END / 2**k * share for k in range(DOUBLINGS + 1) for share in (0.75, 1.0)])[1:]  # s
EARLIER = 7  # doublings before the first of these times
STEPS = 8  # of the reference, between one doubling and the next

A = (
    (),
    (1 / 2,),
    (17 / 50, -1 / 25),
    (371 / 1360, -137 / 2720, 15 / 544),
    (25 / 24, -49 / 48, 125 / 16, -85 / 12),
)
GAMMA = 1 / 4
B = (*A[4], GAMMA)


@dataclass(frozen=True)
class Linear:
    """M dT/dt = P − K T from a start; temperatures (or amplitudes) in °C."""

    mass: sp.csc_array
    stiffness: sp.csc_array
    load: Floats
    start: Floats

    def shifted(self, span: float) -> sp.csc_array:
        """M/span + K."""
        return sp.csc_array(self.mass / span + self.stiffness)


@dataclass
class Sampler:
    """Takes states as a history passes and keeps whole fields at `TIMES`, shape (times, unknowns)."""

    start: Floats
    fields: NDArray[np.float32] = field(init=False)
    taken: int = 0

    def __post_init__(self) -> None:
        self.fields = np.empty((TIMES.size, self.start.size), dtype=np.float32)

    def take(self, first: float, last: float, at: Callable[[float], Floats]) -> None:
        """Fields at the times within (first, last]."""
        while self.taken < TIMES.size and TIMES[self.taken] <= last * (1 + 1e-9):
            assert TIMES[self.taken] >= first * (1 - 1e-9)
            self.fields[self.taken] = at(float(TIMES[self.taken]))
            self.taken += 1

    def chord(self, first: float, before: Floats, last: float, after: Floats) -> None:
        """Fields within a step, on the straight line between its ends."""
        self.take(first, last, lambda time: before + (time - first) / (last - first) * (after - before))


def error(fields: NDArray[np.float32], reference: NDArray[np.float32]) -> float:
    """The largest difference over the whole field and all times, K."""
    return max(float(np.abs(one - other).max()) for one, other in zip(fields, reference, strict=True))


def fine_fields(system: Linear, steps: int = STEPS) -> NDArray[np.float32]:
    """Fields at `TIMES` to well below a millikelvin."""
    edges = [0.0, *(END / 2.0**k for k in range(DOUBLINGS + EARLIER, -1, -1))]
    state, sampler = system.start, Sampler(system.start)
    for first, last in pairwise(edges):
        span = (last - first) / steps
        solve = Factor(system.shifted(GAMMA * span)).solve
        for k in range(steps):
            after = _fourth_order(system, state, span, solve)
            sampler.chord(first + k * span, state, first + (k + 1) * span, after)
            state = after
    return sampler.fields


def _fourth_order(system: Linear, state: Floats, span: float, solve: Solve) -> Floats:
    slopes: list[Floats] = []
    for row in A:
        stage = state + span * sum((a * slope for a, slope in zip(row, slopes, strict=True)), np.zeros(state.size))
        slopes.append(solve(system.load - system.stiffness @ stage) / (GAMMA * span))
    moved: Floats = state + span * sum((b * slope for b, slope in zip(B, slopes, strict=True)), np.zeros(state.size))
    return moved


def backward_euler(system: Linear, step: float, solve: Solve) -> Iterator[Floats]:
    """States after each step without end; `solve` is of M/step + K."""
    state = system.start
    while True:
        state = solve(system.mass @ state / step + system.load)
        yield state


def stepping_error(system: Linear, step: float, reference: NDArray[np.float32]) -> float:
    """What backward Euler at a constant step misses of the whole field in the whole half hour, K."""
    solve = Factor(system.shifted(step)).solve
    state, sampler = system.start, Sampler(system.start)
    for count, after in enumerate(backward_euler(system, step, solve), 1):
        sampler.chord((count - 1) * step, state, count * step, after)
        if sampler.taken == TIMES.size:
            return error(sampler.fields, reference)
        state = after
    raise AssertionError

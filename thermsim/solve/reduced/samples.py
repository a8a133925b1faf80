"""Times at which a reduced history is compared and its residual is taken: close together after every jump."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.solve.governors import GovernorState
from thermsim.solve.tr_bdf2 import Step

FIRST = 0.03  # s after a jump
AFTER_START, AFTER_JUMP = 24, 8
MOST = 96


@dataclass(frozen=True)
class Sample:
    """A state of a history at a time."""

    time: float
    x: Floats
    governors: tuple[GovernorState, ...]


def sample_times(breaks: Sequence[float], end: float) -> Floats:
    """Times spread over the stretches between jumps, none of them on a jump."""
    stops = np.r_[0.0, [t for t in breaks if t < end], end]
    stretches = list(pairwise(stops))
    most = max(2, (MOST - AFTER_START) // AFTER_JUMP)
    if len(stretches) > most:  # the first ones, and some of the others
        stretches = stretches[: most // 2] + stretches[most // 2 :: len(stretches) // (most // 2) + 1]
    times = []
    for k, (start, stop) in enumerate(stretches):
        length = stop - start
        first = min(FIRST, length / 10)
        times.append(start + np.geomspace(first, 0.999 * length, AFTER_START if k == 0 else AFTER_JUMP))
    found: Floats = np.concatenate(times)
    return found


def since_jump(times: Floats, breaks: Sequence[float]) -> Floats:
    """Time since the last jump before each time, s."""
    jumps = np.r_[0.0, breaks]
    found: Floats = times - jumps[np.searchsorted(jumps, times, side="right") - 1]
    return found


def take_samples(steps: Sequence[Step], times: Floats) -> list[Sample]:
    """States at times, from the steps of a history."""
    ends = np.array([step.last.time for step in steps])
    found = []
    for time in times.tolist():
        step = steps[min(int(np.searchsorted(ends, time)), len(steps) - 1)]
        found.append(Sample(time, step.at(time), step.governors_at(time)))
    return found

"""Times at which a reduced history is compared and its residual is taken: close together after every jump."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.solve.governors import GovernorState
from thermsim.solve.tr_bdf2 import Step

FIRST = 0.1  # s after a jump
AFTER_START, AFTER_JUMP = 24, 8
MOST = 96


@dataclass(frozen=True)
class Sample:
    """A state of a history at a time; `segment`: for `Program.at`."""

    time: float
    segment: float
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


def since_jump(sample: Sample, breaks: Sequence[float]) -> float:
    """Time since the last jump before a sample, s."""
    return sample.time - max((jump for jump in breaks if jump < sample.segment), default=0.0)


def take_samples(steps: Sequence[Step], times: Floats) -> list[Sample]:
    """States at times, from the steps of a history."""
    return [
        Sample(time, _middle(step), step.at(time), step.governors_at(time))
        for time, step in zip(times.tolist(), _steps_at(steps, times), strict=True)
    ]


def ends_of_steps(steps: Sequence[Step], times: Floats) -> list[Sample]:
    """States at the ends of the steps that hold some times: between ends, what is stiff is not quite in balance."""
    return [
        Sample(step.last.time, _middle(step), step.last.x, step.last.governors)
        for step in {id(step): step for step in _steps_at(steps, times)}.values()
    ]


def _steps_at(steps: Sequence[Step], times: Floats) -> list[Step]:
    ends = np.array([step.last.time for step in steps])
    return [steps[k] for k in np.minimum(np.searchsorted(ends, times), len(steps) - 1)]


def _middle(step: Step) -> float:
    return 0.5 * (step.first.time + step.last.time)

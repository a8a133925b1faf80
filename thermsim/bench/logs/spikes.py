"""Spikes in temperatures: one or two readings far from those on both sides, which agree.

A disturbed probe makes them, and so does a processor at work for a second: those stay that come with watts, or again
and again by as much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.bench.logs.cells import Truths
from thermsim.model.arrays import Floats, Ints

LOOK = 8  # readings either side that tell the usual noise
SIGMAS = 10.0  # robust standard deviations that a spike is beyond
DOUBTFUL, CERTAIN = 3.0, 15.0  # K: beyond CERTAIN nothing with a heat capacity goes and comes back: common practice
SLOWEST = 20.0  # s between readings; with fewer a spike may have been real
AGAIN, ALIKE = 3, 0.2  # spikes that differ by no more of their height are a habit of what is measured
BURST = 0.05  # of the watts or amps around, that a burst is beyond
MANY_SHARE = 0.02  # of readings; with more it is the contact that is bad, and nothing is dropped


@dataclass(frozen=True)
class Spikes:
    """Readings of one column that stick out: those dropped, and those only doubted."""

    dropped: Ints
    doubted: Ints


def spikes(time: Floats, values: Floats, busy: Truths | None = None) -> Spikes:
    """Spikes in a temperature, °C, by the rule of Hampel with floors in kelvin. `busy`: readings in a burst of watts.

    Hampel: the deviation from the local median against 1.4826 times the median absolute deviation; Pearson,
    Mining Imperfect Data, SIAM 2005, ch. 2, from memory.
    """
    there = np.flatnonzero(np.isfinite(values))
    y = values[there]
    none = np.array([], dtype=np.int64)
    if y.size < 2 * LOOK:
        return Spikes(none, none)
    found = [index for first in np.flatnonzero(np.abs(np.diff(y)) > DOUBTFUL) for index in _from(y, int(first) + 1)]
    candidates = np.unique(np.array(found, dtype=np.int64))
    quick = float(np.median(np.diff(time[there]))) <= SLOWEST
    heights = np.array([_height(y, index) for index in candidates])
    certain = (np.abs(heights) > CERTAIN) & quick & ~_alike(heights)
    if busy is not None:
        certain &= ~busy[there[candidates]]
    if candidates.size > max(MANY_SHARE * y.size, 2):
        certain[:] = False
    return Spikes(there[candidates[certain]], there[candidates[~certain]])


def _from(y: Floats, first: int) -> list[int]:
    """Indices of a spike of one or two readings that begins here, if one does."""
    for length in (1, 2):
        behind = first + length
        if behind >= y.size:
            return []
        before, after, inside = y[first - 1], y[behind], y[first:behind]
        heights = inside - (before + after) / 2
        level = abs(after - before) < 0.2 * np.abs(heights).min() and np.ptp(np.sign(heights)) == 0
        if level and np.abs(heights).min() > max(DOUBTFUL, SIGMAS * _noise(y, first, behind)):
            return list(range(first, behind))
    return []


def _noise(y: Floats, first: int, behind: int) -> float:
    """Robust standard deviation of the readings around."""
    around = np.concatenate((y[max(first - LOOK, 0) : first], y[behind : behind + LOOK]))
    return 1.4826 * float(np.median(np.abs(around - np.median(around))))


def _height(y: Floats, index: int) -> float:
    return float(y[index] - np.median(y[max(index - LOOK, 0) : index + LOOK + 1]))


def _alike(heights: Floats) -> Truths:
    """Which of some heights are met by enough others of the same sign and size."""
    apart = np.abs(heights[:, None] - heights[None, :])
    found: Truths = (apart <= ALIKE * np.abs(heights)[:, None]).sum(axis=1) >= AGAIN
    return found


def bursts(values: Floats) -> Truths:
    """Readings of watts or amps that stand off the median of those around, and the next, for heat comes late."""
    found = np.zeros(values.size, dtype=bool)
    if values.size < 2 * LOOK:
        return found
    windows = np.lib.stride_tricks.sliding_window_view(values, 2 * LOOK + 1)
    usual = np.pad(np.median(windows, axis=1), LOOK, mode="edge")
    with np.errstate(invalid="ignore"):
        off = np.abs(values - usual) > BURST * np.abs(usual)
    found |= off
    found[1:] |= off[:-1]
    return found

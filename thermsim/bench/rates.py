"""How fast a noisy reading still moves, and when it is steady by the published criteria.

Quick enough for every channel of every run; `trend` tells one slope with more care about slow wander.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from thermsim.bench.fit.correlated import inflation
from thermsim.model.arrays import Floats, Ints
from thermsim.solve.settle import CRITERIA, Criterion, Met, criterion_met

SLOPE_OVER = 900.0  # s: over less the noise of a usual probe hides 1 K/h
SMOOTH_OVER = 60.0  # s, for what is read off a trace
LONGEST = 3600.0  # s, of a stretch that a noisy probe needs
TOLD = 1 / 6  # of a criterion: what noise may make of a rate or a change, as a standard deviation
FEWEST = 4  # readings for a line


@dataclass(frozen=True)
class Line:
    """A straight line through readings, level + slope·x, with standard uncertainties, their correlation and scatter.

    `each`: readings per independent one, by which the uncertainties are widened.
    """

    level: float
    slope: float
    u_level: float
    u_slope: float
    r: float
    scatter: float
    each: float

    def at(self, x: float) -> tuple[float, float]:
        """Value and standard uncertainty of the line at a place."""
        cross = 2.0 * x * self.r * self.u_level * self.u_slope
        return self.level + self.slope * x, sqrt(max(self.u_level**2 + (x * self.u_slope) ** 2 + cross, 0.0))


def line(x: Floats, y: Floats, each: float | None = None) -> Line:
    """Least squares as JCGM 100 H.3 does it; `each`: readings per independent one, by default found in what is left.

    Shapes (n,), at least three.
    """
    away = x - x.mean()
    spread = float(away @ away)
    slope = float(away @ (y - y.mean())) / spread
    left = y - y.mean() - slope * away
    each = inflation(left, 2) if each is None else each
    scatter = sqrt(float(left @ left) / (x.size - 2))
    widened, square = scatter * sqrt(each), float(x @ x)
    u_level = widened * sqrt(square / (x.size * spread))
    r = -float(x.sum()) / sqrt(x.size * square) if square else 0.0
    return Line(float(y.mean() - slope * x.mean()), slope, u_level, widened / sqrt(spread), r, scatter, each)


def slopes(time: Floats, values: Floats, over: float = SLOPE_OVER) -> tuple[Floats, Floats]:
    """Slope of a line through each stretch of a length (s), at the middle of its readings: times (s) and unit/s.

    `time` rising, readings without NaN, shapes (n,). Nothing from a record shorter than that.
    """
    if time.size < FEWEST or time[-1] - time[0] < over:
        return np.empty(0), np.empty(0)
    behind = np.searchsorted(time, time + over, side="right")
    first = np.flatnonzero((time + over <= time[-1] + 1e-9 * over) & (behind - np.arange(time.size) >= FEWEST))
    behind = behind[first]
    x, y, number = time - time[0], values - values.mean(), behind - first
    sx, sy, sxx, sxy = (_sums(of, first, behind) for of in (x, y, x * x, x * y))
    found = (sxy - sx * sy / number) / (sxx - sx**2 / number)
    return time[0] + sx / number, found


def smooth(time: Floats, values: Floats, over: float = SMOOTH_OVER) -> Floats:
    """Running mean over a length (s), shape (n,) as given, without NaN.

    At the start, where readings move fast, the stretch shrinks evenly; at the end only what lies behind is averaged.
    """
    half = np.minimum(0.5 * over, time - time[0]) if time.size else time
    first = np.searchsorted(time, time - half, side="left")
    behind = np.searchsorted(time, time + half, side="right")
    found: Floats = (
        _sums(values - values.mean(), first, behind) / (behind - first) + values.mean() if time.size else values
    )
    return found


def _sums(of: Floats, first: Ints, behind: Ints) -> Floats:
    running = np.concatenate([[0.0], np.cumsum(of)])
    found: Floats = running[behind] - running[first]
    return found


def met(time: Floats, values: Floats, end: float, criterion: Criterion) -> Met:
    """When a noisy reading is steady by a criterion for good, and how far it then is from `end`.

    `time` (s) rising, `values` without NaN, shapes (n,). A rate is that of a line through a quarter of an hour, told
    for its middle; a change is told at its window's end. Noisy readings are taken over longer, or their noise alone
    would go on breaking the criterion.
    """
    over = _stretch(time, values, criterion)
    if not criterion.rate:
        return criterion_met(time, smooth(time, values, over), end, criterion)
    even = smooth(time, values)
    middles, found = slopes(time, values, over)
    change = np.abs(found) * criterion.window
    fails = change > criterion.change
    if not middles.size or fails[-1]:
        return Met(None, None)
    when = float(middles[0])
    if fails.any():  # between the last stretch that was too fast and the next
        k = int(np.flatnonzero(fails)[-1])
        share = (change[k] - criterion.change) / (change[k] - change[k + 1])
        when = float(middles[k] + share * (middles[k + 1] - middles[k]))
    return Met(when, abs(float(np.interp(when, time, even)) - end))


def _stretch(time: Floats, values: Floats, criterion: Criterion) -> float:
    """Over how long (s) readings are put together so that their quick noise is a small part of a criterion."""
    least = SLOPE_OVER if criterion.rate else SMOOTH_OVER
    if time.size < FEWEST:
        return least
    # second differences do not see a rise, their median not its quick start; of normal noise it is 0.6745 √6 σ
    step, middle = float(np.median(np.diff(time))), float(np.median(np.abs(np.diff(values, 2))))
    variance = (middle / (0.6745 * sqrt(6.0))) ** 2
    allowed = (TOLD * criterion.change) ** 2
    if criterion.rate:  # of a line's slope over T: 12 σ² Δt / T³
        needed, most = (12.0 * variance * step * criterion.window**2 / allowed) ** (1 / 3), LONGEST
    else:  # of the difference of two means
        needed, most = 2.0 * variance * step / allowed, 0.5 * criterion.window
    return float(np.clip(needed, least, most))


def all_met(time: Floats, values: Floats, end: float) -> dict[str, Met]:
    """`met` by every published criterion."""
    return {name: met(time, values, end, criterion) for name, criterion in CRITERIA.items()}

"""The slope of a log and how sure it is, where readings wander slowly under quick noise.

A least-squares line takes every reading for independent, and so believes a slow wander. Here the noise is a first-order
autoregression plus white noise of an unknown share. Each of a grid of such noises gives a slope by generalised least
squares (a Kalman filter whitens the readings) and a likelihood with line and scale integrated out (D. A. Harville,
J. American Statistical Association 72, 1977); the slopes are averaged by it. The prior of the correlation is
1/√(1 − φ²), Jeffreys' for a stationary autoregression (J. O. Berger, R.-Y. Yang, Econometric Theory 10, 1994; from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from thermsim.model.arrays import Floats

MOST = 240  # readings that are looked at one by one; more are averaged over equal steps
FEWEST = 8
CORRELATION = np.tanh(np.linspace(0.0, np.arctanh(0.998), 18))  # of the wander, from one reading to the next
WHITE = np.array([0.0, 0.25, 0.5, 0.7, 0.85, 0.95])  # share of the variance that is quick noise


@dataclass(frozen=True)
class Trend:
    """A straight line through a log: value at its middle time, slope (unit/s), the slope's uncertainty and freedom."""

    middle: float
    level: float
    slope: float
    u_slope: float
    freedom: float

    def at(self, time: Floats | float) -> Floats | float:
        """The line."""
        return self.level + self.slope * (time - self.middle)


def trend(time: Floats, values: Floats) -> Trend:
    """The slope of readings (n,) at rising times (s), n at least `FEWEST`, gaps allowed, with its standard uncertainty.

    `freedom` is that of Student's t for the readings looked at; how little the wander is known widens `u_slope`.
    """
    time, values = averaged(time, values)
    span, middle, level = time[-1] - time[0], 0.5 * (time[0] + time[-1]), float(values.mean())
    columns = np.stack([np.ones(time.size), (time - middle) / span, values - level], axis=1)
    products, logs = _whitened(columns, np.diff(time) / np.median(np.diff(time)))
    inverse = np.linalg.inv(products[:, :2, :2])
    lines = np.einsum("kij,kj->ki", inverse, products[:, :2, 2])
    left = products[:, 2, 2] - np.einsum("ki,ki->k", lines, products[:, :2, 2])
    freedom = time.size - 2
    left = np.maximum(left, np.finfo(float).tiny)  # readings all on one line
    likelihood = -0.5 * (freedom * np.log(left) + logs + np.linalg.slogdet(products[:, :2, :2])[1])
    weights = _PRIOR * np.exp(likelihood - likelihood.max())
    weights /= weights.sum()
    told = weights @ lines
    variances = left / freedom * inverse[:, 1, 1]
    variance = float(weights @ (variances + (lines[:, 1] - told[1]) ** 2))
    return Trend(float(middle), level + float(told[0]), float(told[1] / span), sqrt(variance) / span, float(freedom))


def averaged(time: Floats, values: Floats, most: int = MOST) -> tuple[Floats, Floats]:
    """Means of times and readings over at most `most` equal steps; steps without a reading are left out."""
    if time.size <= most:
        return time, values
    step = np.minimum(((time - time[0]) / (time[-1] - time[0]) * most).astype(int), most - 1)
    count = np.bincount(step, minlength=most)
    there = count > 0
    times, means = (np.bincount(step, of, most)[there] / count[there] for of in (time, values))
    return times, means


_RHO, _NUGGET = (grid.ravel() for grid in np.meshgrid(CORRELATION, WHITE, indexing="ij"))
_LEAST = np.finfo(float).eps  # variance of the news of a reading that follows one at almost the same time
_PRIOR = np.repeat(np.gradient(CORRELATION) / np.sqrt(1.0 - CORRELATION**2), WHITE.size)


def _whitened(columns: Floats, gaps: Floats) -> tuple[Floats, Floats]:
    """Sums of products (k, 3, 3) of columns (n, 3) whitened by each of k noises of variance 1; log determinants (k,).

    `gaps`: from each reading to the next, in steps of the log, shape (n − 1,).
    """
    steady = 1.0 - _NUGGET
    wander, variance = np.zeros((_RHO.size, columns.shape[1])), steady.copy()
    products, logs = np.zeros((_RHO.size, columns.shape[1], columns.shape[1])), np.zeros(_RHO.size)
    for row, gap in zip(columns, np.append(gaps, 1.0), strict=True):
        total = np.maximum(variance + _NUGGET, _LEAST)
        news = row - wander
        products += news[:, :, None] * news[:, None, :] / total[:, None, None]
        logs += np.log(total)
        gain = variance / total
        kept = _RHO**gap
        wander = kept[:, None] * (wander + gain[:, None] * news)
        variance = kept**2 * variance * (1.0 - gain) + (1.0 - kept**2) * steady
    return products, logs

"""How much each reading counts: noise, readings that repeat each other, and errors that whole series share.

A series is one channel in one run. Besides its noise, widened by `inflation`, it shares an offset (the probe's
calibration, the same in every run) and a share of its rise (the model's form, the same in runs of one option; the
probe's seat, in each run anew), so a record of many readings is not surer than these allow. Each series is split into
its part along "the same throughout" and "as the rise", whose covariance is small and known, and the rest, which is
noise: generalised least squares without those errors as unknowns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.bench.fit.correlated import inflation
from thermsim.model.arrays import Floats

NORMAL_MAD = 1.4826  # standard deviations per median absolute deviation of a normal law
FLAT = 1e-6  # of a rise, under which there is none


@dataclass(frozen=True)
class Noise:
    """Standard uncertainties of one channel, in its unit; `form` and `seat`: shares of its rise."""

    reading: float
    calibration: float
    form: float
    seat: float
    inflation: float = 1.0


@dataclass(frozen=True)
class Series:
    """What the series of one channel share: option and rise (K since switch-on, by the model) of each run."""

    options: tuple[str | None, ...]
    rises: tuple[Floats, ...]

    def whiten(self, noise: Noise, series: Sequence[Floats]) -> Floats:
        """Series of shapes (n,) or (n, k), one a run, as rows of unit variance."""
        bases = [_basis(rise) for rise in self.rises]
        along = [basis.T @ values for basis, values in zip(bases, series, strict=True)]
        rest = [values - basis @ part for basis, values, part in zip(bases, series, along, strict=True)]
        lower = np.linalg.cholesky(self._covariance(noise, bases))
        shared = np.linalg.solve(lower, np.concatenate(along))
        found: Floats = np.concatenate((*(one / (noise.reading * np.sqrt(noise.inflation)) for one in rest), shared))
        return found

    def _covariance(self, noise: Noise, bases: Sequence[Floats]) -> Floats:
        """Of the parts along the bases, shape (2 runs, 2 runs)."""
        ones = [basis.T @ np.ones(basis.shape[0]) for basis in bases]
        rises = [basis.T @ rise for basis, rise in zip(bases, self.rises, strict=True)]
        places = np.cumsum([0, *(one.size for one in ones)])
        found = noise.reading**2 * noise.inflation * np.eye(int(places[-1]))
        every = np.concatenate(ones)
        found += noise.calibration**2 * np.outer(every, every)
        for j, first in enumerate(rises):
            for k, second in enumerate(rises):
                share = noise.form**2 * (self.options[j] == self.options[k]) + noise.seat**2 * (j == k)
                found[places[j] : places[j + 1], places[k] : places[k + 1]] += share * np.outer(first, second)
        covariance: Floats = found
        return covariance

    def independent(self, noise: Noise) -> float:
        """Independent rows among those of `whiten`."""
        return sum(max(rise.size - 2, 0) / noise.inflation + min(rise.size, 2) for rise in self.rises)


def _basis(rise: Floats) -> Floats:
    """Orthonormal columns that span a constant and the rise, shape (n, 1 or 2)."""
    constant = np.full((rise.size, 1), 1.0 / np.sqrt(rise.size))
    left = rise - rise.mean()
    size = float(np.linalg.norm(left))
    if size <= FLAT * max(float(np.abs(rise).max(initial=0.0)), 1.0):
        return constant
    found: Floats = np.concatenate((constant, left[:, None] / size), axis=1)
    return found


def as_left(noise: Noise, series: Series, residuals: Sequence[Floats]) -> Noise:
    """The noise with what a fit left of a channel: its spread if it is more, and how readings repeat each other."""
    rest = [one - basis @ (basis.T @ one) for one, basis in zip(residuals, map(_basis, series.rises), strict=True)]
    spread = float(np.sqrt(np.mean(np.concatenate(rest) ** 2)))
    repeats = float(np.average([inflation(one, 2) for one in rest], weights=[one.size for one in rest]))
    return Noise(max(noise.reading, spread), noise.calibration, noise.form, noise.seat, repeats)


def of_form(shares: Sequence[float], expected: Sequence[float]) -> float:
    """Standard uncertainty of the model's form: the scatter of what channels are off by beyond what is `expected`.

    Both as shares of the channels' rises; by the median, so that a probe that fell off does not count.
    """
    if len(shares) < 3:
        return 0.0
    scatter = NORMAL_MAD * float(np.median(np.abs(shares)))
    return float(np.sqrt(max(scatter**2 - float(np.median(expected)) ** 2, 0.0)))

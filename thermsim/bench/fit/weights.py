"""How much each reading counts: noise, readings that repeat each other, and offsets that whole series share.

A series is one channel in one run. Its deviations from its own mean carry the noise, widened by `inflation`; its mean
carries the offsets as well: of the probe's calibration, the same in every run; of the model's form, the same in runs of
one option; of the run (the room's gradient, assembly). The two are independent, so each is divided by its own standard
uncertainty: generalised least squares without the offsets as unknowns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.bench.fit.correlated import inflation
from thermsim.model.arrays import Floats

NORMAL_MAD = 1.4826  # standard deviations per median absolute deviation of a normal law


@dataclass(frozen=True)
class Noise:
    """Standard uncertainties of one channel, in its unit; `inflation`: readings per independent one."""

    reading: float
    calibration: float
    run: float
    form: float = 0.0
    inflation: float = 1.0

    @property
    def offset(self) -> float:
        """Of a whole series."""
        return float(np.sqrt(self.calibration**2 + self.form**2 + self.run**2))

    def of_means(self, counts: Sequence[int], options: Sequence[str | None]) -> Floats:
        """Covariance of the means of series, shape (runs, runs)."""
        same = np.array([[one == other for other in options] for one in options], dtype=float)
        alone = self.reading**2 * self.inflation / np.array(counts, dtype=float) + self.run**2
        found: Floats = np.diag(alone) + self.calibration**2 + self.form**2 * same
        return found

    def whiten(self, series: Sequence[Floats], options: Sequence[str | None]) -> Floats:
        """Series of shapes (n,) or (n, k), one a run, as rows of unit variance: their deviations, then their means."""
        rows = [values - values.mean(axis=0) for values in series]
        within = np.concatenate(rows) / (self.reading * np.sqrt(self.inflation))
        covariance = self.of_means([len(values) for values in series], options)
        means = np.array([values.mean(axis=0) for values in series])
        found: Floats = np.concatenate((within, np.linalg.solve(np.linalg.cholesky(covariance), means)))
        return found

    def independent(self, series: Sequence[Floats]) -> float:
        """Independent rows among those of `whiten`."""
        return sum((len(values) - 1) / self.inflation + 1 for values in series)


def as_left(noise: Noise, residuals: Sequence[Floats], coefficients: int = 1) -> Noise:
    """The noise with what a fit left of a channel's series: their spread if it is more, and how they repeat."""
    spread = float(np.sqrt(np.mean(np.concatenate([(one - one.mean()) ** 2 for one in residuals]))))
    repeats = [inflation(one, coefficients) for one in residuals]
    weights = [len(one) for one in residuals]
    told = float(np.average(repeats, weights=weights))
    return Noise(max(noise.reading, spread), noise.calibration, noise.run, noise.form, told)


def of_form(offsets: Sequence[float], expected: Sequence[float]) -> float:
    """Standard uncertainty of the model's form: what the offsets of channels scatter beyond what is `expected` of each.

    By the median, so that a probe that fell off does not count.
    """
    if len(offsets) < 3:
        return 0.0
    scatter = NORMAL_MAD * float(np.median(np.abs(offsets)))
    return float(np.sqrt(max(scatter**2 - float(np.median(expected)) ** 2, 0.0)))

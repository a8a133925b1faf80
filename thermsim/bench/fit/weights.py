"""How much each reading counts: noise, readings that repeat each other, and errors that whole series share.

A series is one channel in one run. Besides its noise, widened by `inflation`, it shares an offset (the probe's
calibration, the same in every run), a share of its rise (the model's form, the same in runs of one option; the probe's
seat, in each run anew) and a share of its pace (heat capacities, the same in runs of one option), so a record of many
readings is not surer than these allow. Each series is split into its part along these shapes, whose covariance is small
and known, and the rest, which is noise: generalised least squares without those errors as unknowns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from thermsim.bench.fit.correlated import inflation
from thermsim.model.arrays import Floats

NORMAL_MAD = 1.4826  # standard deviations per median absolute deviation of a normal law
FLAT = 1e-6  # of a shape, under which there is nothing new in it
PIECES = 20  # of a run, within each of which the model's own wander stays the same


@dataclass(frozen=True)
class Noise:
    """Standard uncertainties of one channel, in its unit; `form` and `seat`: shares of its rise; `pace`: of time.

    `wander`: of the model itself, as it is worked out.
    """

    reading: float
    calibration: float
    form: float
    seat: float
    pace: float
    wander: float = 0.0
    inflation: float = 1.0

    def of_one(self, count: int) -> float:
        """Standard uncertainty of one of so many readings, as if they were independent."""
        return float(np.sqrt(self.reading**2 * self.inflation + self.wander**2 * max(count / PIECES, 1.0)))


@dataclass(frozen=True)
class Series:
    """What the series of one channel share: option and, by the model, rise since switch-on and pace of each run.

    `paces`: time times the rate of change, what a share of time more or less does.
    """

    options: tuple[str | None, ...]
    rises: tuple[Floats, ...]
    paces: tuple[Floats, ...]

    @property
    def bases(self) -> list[Floats]:
        """Orthonormal columns of each run's shapes, shape (n, up to 3)."""
        return [_basis(rise, pace) for rise, pace in zip(self.rises, self.paces, strict=True)]

    def whiten(self, noise: Noise, series: Sequence[Floats]) -> Floats:
        """Series of shapes (n,) or (n, k), one a run, as rows of unit variance."""
        bases = self.bases
        along = [basis.T @ values for basis, values in zip(bases, series, strict=True)]
        rest = [values - basis @ part for basis, values, part in zip(bases, series, along, strict=True)]
        lower = np.linalg.cholesky(self._covariance(noise, bases))
        shared = np.linalg.solve(lower, np.concatenate(along))
        found: Floats = np.concatenate((*(one / noise.of_one(len(one)) for one in rest), shared))
        return found

    def _covariance(self, noise: Noise, bases: Sequence[Floats]) -> Floats:
        """Of the parts along the bases, square."""
        ones = [basis.T @ np.ones(basis.shape[0]) for basis in bases]
        rises = [basis.T @ rise for basis, rise in zip(bases, self.rises, strict=True)]
        paces = [basis.T @ pace for basis, pace in zip(bases, self.paces, strict=True)]
        places = np.cumsum([0, *(one.size for one in ones)])
        found = np.diag(np.repeat([noise.of_one(rise.size) ** 2 for rise in self.rises], np.diff(places)))
        every = np.concatenate(ones)
        found += noise.calibration**2 * np.outer(every, every)
        for j, option in enumerate(self.options):
            for k, other in enumerate(self.options):
                if option == other:
                    of_rise = noise.form**2 + noise.seat**2 * (j == k)
                    found[places[j] : places[j + 1], places[k] : places[k + 1]] += of_rise * np.outer(
                        rises[j], rises[k]
                    ) + noise.pace**2 * np.outer(paces[j], paces[k])
        covariance: Floats = found
        return covariance

    def independent(self, noise: Noise) -> float:
        """Independent rows among those of `whiten`."""
        widened = [(noise.of_one(rise.size) / noise.reading) ** 2 for rise in self.rises]
        return sum(
            max(rise.size - 3, 0) / wide + min(rise.size, 3) for rise, wide in zip(self.rises, widened, strict=True)
        )


def _basis(*shapes: Floats) -> Floats:
    """Orthonormal columns that span a constant and some shapes, those left out that bring nothing new."""
    columns = [np.full(shapes[0].size, 1.0 / np.sqrt(shapes[0].size))]
    for shape in shapes:
        left = shape.copy()
        for _ in range(2):
            for column in columns:
                left -= (column @ left) * column
        size = float(np.linalg.norm(left))
        if size > FLAT * max(float(np.linalg.norm(shape)), 1.0):
            columns.append(left / size)
    return np.array(columns).T


def as_left(noise: Noise, series: Series, residuals: Sequence[Floats]) -> Noise:
    """The noise with what a fit left of a channel: its spread if it is more, and how readings repeat each other."""
    rest = [one - basis @ (basis.T @ one) for one, basis in zip(residuals, series.bases, strict=True)]
    spread = float(np.sqrt(np.mean(np.concatenate(rest) ** 2)))
    repeats = float(np.average([inflation(one, 3) for one in rest], weights=[one.size for one in rest]))
    return replace(noise, reading=max(noise.reading, spread), inflation=repeats)


def of_form(shares: Sequence[float], expected: Sequence[float]) -> float:
    """Standard uncertainty of the model's form: the scatter of what channels are off by beyond what is `expected`.

    Both as shares of the channels' rises; by the median, so that a probe that fell off does not count.
    """
    if len(shares) < 3:
        return 0.0
    scatter = NORMAL_MAD * float(np.median(np.abs(shares)))
    return float(np.sqrt(max(scatter**2 - float(np.median(expected)) ** 2, 0.0)))

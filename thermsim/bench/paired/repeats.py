"""From the ends of repeated runs to a difference and its uncertainty.

What varies from run to run shows in the repeats and is not counted again (JCGM 100, 4.3.10); added is what repeats
cannot show, because it stays while a stand stays: a probe that was moved, a room that lies differently about the box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from thermsim.bench.paired.ends import End
from thermsim.bench.uncertainty import Component, Measured, freedom_of_guess

GUESS = 0.25  # how well an assumed repeatability is known, relative: 8 degrees of freedom (JCGM 100 G.4.2)
UNLIKE = 0.25  # chance under which two scatters are not put together (T. A. Bancroft, Biometrics 20, 1964; from memory)
DOUBT = 0.01  # chance under which curves are less sure than their repeats agree


@dataclass(frozen=True)
class Repeats:
    """The ends of one channel in the runs of one stand, in the order of the runs."""

    ends: tuple[End, ...]

    @property
    def count(self) -> int:
        """Runs."""
        return len(self.ends)

    @property
    def values(self) -> list[float]:
        """End values."""
        return [end.value for end in self.ends]

    @property
    def mean(self) -> float:
        """Of the end values."""
        return float(np.mean(self.values))

    @property
    def squares(self) -> float:
        """Sum of squares about the mean."""
        return float(np.sum((np.asarray(self.values) - self.mean) ** 2))

    @property
    def within(self) -> float:
        """Mean variance of one end from within its run."""
        return float(np.mean([end.u**2 for end in self.ends]))

    @property
    def scatter(self) -> float | None:
        """Standard deviation of the repeats; None of a single run."""
        return sqrt(self.squares / (self.count - 1)) if self.count > 1 else None


def difference(
    before: Repeats, after: Repeats, assumed: float, beyond: Sequence[Component] = (), paired: bool = False
) -> Measured:
    """After minus before.

    `assumed`: standard deviation from run to run where no repeats tell it. `beyond`: what repeats cannot show. With
    `paired` each run is compared with that of the same number; counts must be equal.
    """
    known: float | None
    if paired and before.count == after.count > 1:
        apart = np.subtract(after.values, before.values)
        u = float(apart.std(ddof=1)) / sqrt(apart.size)
        kinds = [Component(f"scatter of {apart.size} pairs", u, apart.size - 1)]
        known = u**2 * apart.size / 2
    else:
        kinds, known = _repeatability(before, after, assumed)
    shape = _doubt(before, after, known)
    return Measured(after.mean - before.mean, (*kinds, *shape, *(one for one in beyond if one.u > 0)))


def _repeatability(before: Repeats, after: Repeats, assumed: float) -> tuple[list[Component], float | None]:
    """Components from run to run, and the variance of one run that the repeats show."""
    free = before.count + after.count - 2
    if not free:
        found = [Component("run to run, assumed", assumed * sqrt(2.0), freedom_of_guess(GUESS))]
        for name, one in (("before", before), ("after", after)):
            found += [Component(f"{part.source}, {name}", part.u, part.freedom) for part in one.ends[0].within]
        return [one for one in found if one.u > 0], None
    pooled = (before.squares + after.squares) / free
    u = sqrt(pooled * (1 / before.count + 1 / after.count))
    alike = Component(f"scatter of {before.count} + {after.count} runs", u, free)
    if min(before.count, after.count) < 2:
        return [alike], pooled
    apart = [
        Component(f"repeats {name}", sqrt(one.squares / (one.count - 1) / one.count), one.count - 1)
        for name, one in (("before", before), ("after", after))
    ]
    # of unlike counts the fewer may scatter more, which pooling hides; of like counts it does hardly any harm
    wider = Measured(0.0, tuple(apart)).half_width() > Measured(0.0, (alike,)).half_width()
    welch = wider and (before.count != after.count or _are_unlike(before, after))
    return (apart if welch else [alike]), pooled


def _are_unlike(before: Repeats, after: Repeats) -> bool:
    """Whether one stand scatters more than the other than chance makes likely, by an F test."""
    from scipy.special import fdtrc

    first, second = before.squares / (before.count - 1), after.squares / (after.count - 1)
    if not first or not second:
        return first != second
    above = float(fdtrc(after.count - 1, before.count - 1, second / first))
    return 2 * min(above, 1 - above) < UNLIKE


def _doubt(before: Repeats, after: Repeats, known: float | None) -> list[Component]:
    """Where curves state far more uncertainty than their repeats show, their shape is in doubt, in all alike."""
    ends = [*before.ends, *after.ends]
    if known is None or not any(end.extrapolated for end in ends):
        return []
    from scipy.special import fdtrc

    stated, free = (before.within + after.within) / 2, len(ends) - 2
    freedom = min(one.freedom for end in ends for one in end.within)
    beyond_chance = not known or float(fdtrc(min(freedom, 1e6), free, stated / known)) < DOUBT
    if not beyond_chance:
        return []
    return [Component("shape of the curves", sqrt(max(before.within + after.within - 2 * known, 0.0)), inf)]

"""Combining standard uncertainties as JCGM 100:2008, the "GUM", does: components, degrees of freedom, intervals."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats

LEVEL = 0.95


@dataclass(frozen=True)
class Component:
    """One reason why a result is not sure: its standard uncertainty, in the unit of the result, and how well known.

    `freedom`: degrees of freedom; infinite for what is taken as known.
    """

    source: str
    u: float
    freedom: float = inf


@dataclass(frozen=True)
class Measured:
    """A result with all that makes it unsure."""

    value: float
    components: tuple[Component, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty, JCGM 100 equation 10."""
        return sqrt(sum(one.u**2 for one in self.components))

    @property
    def freedom(self) -> float:
        """Effective degrees of freedom, Welch and Satterthwaite's formula, JCGM 100 equation G.2b."""
        below = sum(one.u**4 / one.freedom for one in self.components)
        return self.u**4 / below if below > 0 else inf

    def half_width(self, level: float = LEVEL) -> float:
        """Of the interval that covers the truth in a share `level` of cases, by Student's t, JCGM 100 G.3.2."""
        return coverage_factor(self.freedom, level) * self.u if self.u else 0.0

    @property
    def chance(self) -> float:
        """How often chance alone gives a value at least so far from zero, two-sided."""
        from scipy.special import stdtr

        if not self.u:
            return 1.0 if self.value == 0 else 0.0
        return float(2.0 * stdtr(min(self.freedom, 1e9), -abs(self.value) / self.u))

    def budget(self) -> list[dict[str, Any]]:
        """The components as plain facts, the largest first; unit as the result's."""
        order = sorted(self.components, key=lambda one: -one.u)
        return [{"source": c.source, "u": c.u, "freedom": None if c.freedom == inf else c.freedom} for c in order]


def coverage_factor(freedom: float, level: float = LEVEL) -> float:
    """Student's t for a two-sided interval; degrees of freedom need not be whole, JCGM 100 G.4.1 note."""
    from scipy.special import stdtrit

    return float(stdtrit(min(freedom, 1e9), 0.5 + 0.5 * level))


def propagated(
    slopes: Sequence[float] | Floats, u: Sequence[float] | Floats, correlation: Floats | None = None
) -> float:
    """Standard uncertainty of a function of inputs from its slopes to them, JCGM 100 equations 13 and 16.

    `slopes`, `u`: shape (n,); `correlation`: (n, n), none where inputs do not depend on each other.
    """
    parts = np.asarray(slopes, dtype=float) * np.asarray(u, dtype=float)
    variance = parts @ parts if correlation is None else parts @ correlation @ parts
    return sqrt(max(float(variance), 0.0))


def of_difference(u_a: float, u_b: float, r: float = 0.0) -> float:
    """Standard uncertainty of a − b whose errors correlate by `r`: √(u_a² + u_b² − 2r u_a u_b)."""
    return propagated((1.0, -1.0), (u_a, u_b), np.array([[1.0, r], [r, 1.0]]))


def freedom_of_guess(relative: float) -> float:
    """Degrees of freedom of a standard uncertainty that is itself known to so much of it, JCGM 100 equation G.3."""
    return 0.5 / relative**2


def holm(chances: Iterable[float]) -> list[float]:
    """Chances made to hold for all of several questions at once (S. Holm, Scand. J. Statistics 6, 1979).

    The smallest is multiplied by how many there are, the next by one less, and so on; none falls below one before.
    """
    values = list(chances)
    found, least = [0.0] * len(values), 0.0
    for rank, k in enumerate(sorted(range(len(values)), key=lambda k: values[k])):
        least = max(least, min(1.0, (len(values) - rank) * values[k]))
        found[k] = least
    return found

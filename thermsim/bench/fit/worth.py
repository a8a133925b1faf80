"""What a fit is worth: standard errors, how much the data said, what they cannot tell apart, bounds it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import exp, inf, log
from typing import Any

import numpy as np

from thermsim.bench.fit.least_squares import correlations
from thermsim.bench.fit.matching import Matched, Matching
from thermsim.bench.fit.unknowns import Unknown
from thermsim.model.arrays import Floats

LEAST = 0.01  # of a factor, what a model leaves out of its bends and timing at the least; common practice, no source
ALIKE = 0.95  # correlation from which two unknowns are not told apart
SAID_NOTHING = 0.9  # of the prior's standard uncertainty, left after the fit
MEMBER = 0.3  # share of a direction from which an unknown belongs to it
ALONE = 0.95  # share from which it is the direction
SURPRISING = 3.0  # prior standard uncertainties from what was believed
TELLING = 0.1  # change of the first of a group, by which the others are told


@dataclass(frozen=True)
class Worth:
    """Of the unknowns of a fit, in x (logarithms of factors, or shifts)."""

    matching: Matching
    matched: Matched

    @property
    def unknowns(self) -> Sequence[Unknown]:
        """In the order of every vector here."""
        return self.matching.unknowns

    @cached_property
    def scale(self) -> Floats:
        """Units in which the solution is held."""
        return np.array([one.scale for one in self.unknowns])

    @cached_property
    def independent(self) -> float:
        """Independent readings."""
        return sum(
            series.independent(self.matched.noises[channel])
            for channel, series in self.matching.weighing.series.items()
        )

    @cached_property
    def reduced_chi_square(self) -> float:
        """Sum of weighted squares per degree of freedom: about 1 where the noise is what it was taken for."""
        shown = self.matched.solution.residuals[: -self._all]
        return float(shown @ shown) / max(self.independent - self._all, 1.0)

    @property
    def _all(self) -> int:
        """Unknowns and shifts of runs."""
        return self.matched.solution.values.size

    @cached_property
    def information(self) -> Floats:
        """What the readings alone say, by the scales, whatever the runs' shifts are, shape (p, p).

        Smaller where the fit left more than the noise explains.
        """
        count = self.scale.size
        rows = self.matched.solution.jacobian[: -self._all]
        whole = rows.T @ rows / max(self.reduced_chi_square, 1.0)
        across, shifts = whole[:count, count:], whole[count:, count:] + np.eye(self._all - count)
        found: Floats = whole[:count, :count] - across @ np.linalg.solve(shifts, across.T)
        return found

    @cached_property
    def covariance(self) -> Floats:
        """Of x, with what was believed before, shape (p, p)."""
        pulls = np.array([one.pulls for one in self.unknowns], dtype=float)
        whole = self.information + np.diag(pulls)
        # where neither readings nor beliefs say anything the uncertainty is huge, not infinite
        floor = 1e-6 * np.eye(self.scale.size)
        found: Floats = np.linalg.inv(whole + floor) * np.outer(self.scale, self.scale)
        return found + np.diag([LEAST**2 * one.is_factor for one in self.unknowns])

    @cached_property
    def standard(self) -> Floats:
        """Standard errors of x."""
        return np.sqrt(np.diag(self.covariance))

    @cached_property
    def alone(self) -> Floats:
        """Correlations that the readings alone leave."""
        floor = 1e-6 * np.eye(self.scale.size)
        return correlations(np.asarray(np.linalg.inv(self.information + floor), dtype=float))

    def groups(self) -> list[dict[str, Any]]:
        """Unknowns that the readings do not tell apart, and what change of them leaves the readings as they are."""
        values, vectors = np.linalg.eigh(self.information)
        found: list[dict[str, Any]] = []
        for value, vector in zip(values, vectors.T, strict=True):
            if value < 1.0 and np.abs(vector).max() < ALONE:  # less than what was believed tells
                found.append(self._group(np.flatnonzero(np.abs(vector) >= MEMBER), vector * self.scale))
        told = [set(group["names"]) for group in found]
        for j in range(self.scale.size):
            for k in range(j):
                names = {self.unknowns[j].name, self.unknowns[k].name}
                if abs(self.alone[j, k]) > ALIKE and not any(names <= group for group in told):
                    direction = np.zeros(self.scale.size)
                    slope = self.information[k, j] / max(self.information[j, j], np.finfo(float).tiny)
                    direction[k], direction[j] = self.scale[k], -slope * self.scale[j]
                    found.append(self._group(np.array([k, j]), direction))
        return found

    def _group(self, members: Any, direction: Floats) -> dict[str, Any]:
        """Names, and how each moves when the first goes up by a tenth."""
        first = direction[members[0]]
        goal = log(1 + TELLING) if self.unknowns[members[0]].is_factor else TELLING
        moves = {self.unknowns[k].name: float(direction[k] / first * goal) for k in members}
        pair = float(self.alone[members[0], members[1]]) if len(members) > 1 else None
        return {
            "names": list(moves), "correlation": pair,
            "moves": {u.name: u.amount(moves[u.name]) for u in self.unknowns if u.name in moves},
        }  # fmt: skip

    def told(self) -> list[dict[str, Any]]:
        """Each unknown as plain facts."""
        solution = self.matched.solution
        ends = list(zip(solution.at_low, solution.at_high, strict=True))
        return [self._one(k, one, *ends[k]) for k, one in enumerate(self.unknowns)]

    def _one(self, k: int, one: Unknown, at_low: bool, at_high: bool) -> dict[str, Any]:
        x, sd, single = float(self.matched.x[k]), float(self.standard[k]), one.single
        size = abs(one.told(x)) * sd if one.is_factor else sd
        left = None if one.prior == inf else sd / one.prior
        away = None if one.prior == inf else (x - one.middle) / one.prior
        addresses = list(dict.fromkeys(t.address for mine in one.targets.values() for t in mine))
        return {
            "name": one.name, "of": addresses, "options": [option or "base" for option in one.targets],
            "dimension": (single.dimension if single is not None else "factor" if one.is_factor else "shift"),
            "before": one.told(0.0), "value": one.told(x), "standard_error": size,
            "low_95": one.told(x - 1.96 * sd), "high_95": one.told(x + 1.96 * sd),
            "prior_low_95": None if left is None else one.told(one.middle - 1.96 * one.prior),
            "prior_high_95": None if left is None else one.told(one.middle + 1.96 * one.prior),
            "factor": exp(x) if one.is_factor else None,
            "relative_error": sd if one.is_factor else None,
            "left_of_prior": left, "said_nothing": (left if left is not None else sd / one.scale) > SAID_NOTHING,
            "from_belief": away, "surprising": away is not None and abs(away) > SURPRISING,
            "bound_hit": "low" if at_low else "high" if at_high else None,
            "watts": one.is_watts,
        }  # fmt: skip

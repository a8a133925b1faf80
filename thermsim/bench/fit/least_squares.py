"""Bounded nonlinear least squares, with what the solution is worth: covariance, correlations, bounds it rests on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats

Residuals = Callable[[Floats], Floats]
TIGHT = 1e-12  # relative: where iterations stop, of values, sum of squares and gradient
HUGE = 1e150  # residual whose square is still finite
SMALLEST = 1e-100  # of a column: what it then says of its value is nothing, but still a number
AT_BOUND = 1e-3  # of the range between the bounds


@dataclass(frozen=True)
class Solution:
    """Where the sum of squares is least.

    `values`: shape (p,); `residuals`: (n,); `jacobian`: (n, p); `evaluations`: of the residuals, without those for the
    Jacobian; `at_low`, `at_high`: (p,), whether a value rests on its bound.
    """

    values: Floats
    residuals: Floats
    jacobian: Floats
    evaluations: int
    converged: bool
    at_low: tuple[bool, ...]
    at_high: tuple[bool, ...]

    @property
    def squares(self) -> float:
        """Sum of squares."""
        return float(self.residuals @ self.residuals)

    @property
    def degrees_of_freedom(self) -> int:
        """Residuals more than values."""
        return self.residuals.size - self.values.size

    @property
    def variance(self) -> float:
        """Of one residual, as the fit left it."""
        return self.squares / max(self.degrees_of_freedom, 1)

    @property
    def inverse(self) -> Floats:
        """(JᵀJ)⁻¹, shape (p, p): the covariance for residuals of unit variance; huge where they say nothing."""
        scale = np.maximum(np.linalg.norm(self.jacobian, axis=0), SMALLEST)
        _, singular, right = np.linalg.svd(self.jacobian / scale, full_matrices=False)
        kept = np.maximum(singular, np.finfo(float).eps * singular.max(initial=0.0) + np.finfo(float).tiny)
        half = right.T / kept / scale[:, None]
        found: Floats = half @ half.T
        return found

    @property
    def covariance(self) -> Floats:
        """Of the values, with the variance that the fit left."""
        return self.variance * self.inverse

    @property
    def standard_errors(self) -> Floats:
        """Of the values."""
        found: Floats = np.sqrt(np.diag(self.covariance))
        return found


def least_squares(
    residuals: Residuals,
    start: Floats,
    low: Floats | float = -np.inf,
    high: Floats | float = np.inf,
    jacobian: Callable[[Floats], Floats] | None = None,
    within: float = TIGHT,
    most: int | None = None,
    still: float | None = None,
) -> Solution:
    """Least sum of squares by a trust region that keeps to bounds (SciPy's `trf`; Branch, Coleman and Li, 1999).

    Without a `jacobian` it is taken by central differences. `within`: relative, of values, squares and gradient, where
    the search stops; `still`: the same of the values alone, where residuals are too rough for that. `most`: evaluations
    at most.
    """
    from scipy.optimize import least_squares as solve

    start = np.asarray(start, dtype=float)
    low, high = np.broadcast_to(low, start.shape), np.broadcast_to(high, start.shape)
    # the solver starts strictly inside
    inside = np.clip(start, low + 1e-6 * _range(low, high), high - 1e-6 * _range(low, high))

    def bounded(x: Floats) -> Floats:
        with np.errstate(over="ignore"):  # a trial far out; the next one is nearer
            return np.clip(residuals(x), -HUGE, HUGE)

    found = solve(
        bounded, inside, jacobian or "3-point", (low, high), x_scale="jac", method="trf",
        ftol=within, xtol=still or within, gtol=within, max_nfev=most,
    )  # fmt: skip
    near = AT_BOUND * _range(low, high)
    return Solution(
        found.x, found.fun, np.asarray(found.jac), int(found.nfev), bool(found.success),
        tuple((found.x - low <= near).tolist()), tuple((high - found.x <= near).tolist()),
    )  # fmt: skip


def _range(low: Floats, high: Floats) -> Floats:
    """Width between bounds, 0 where there is none."""
    width = high - low
    found: Floats = np.where(np.isfinite(width), width, 0.0)
    return found


def correlations(covariance: Floats) -> Floats:
    """Correlation coefficients of a covariance, shape (p, p)."""
    sd = np.sqrt(np.maximum(np.diag(covariance), np.finfo(float).tiny))
    found: Floats = covariance / np.outer(sd, sd)
    return found

"""Sparse LU factors with an ordering fit for stacked sheets."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from thermsim.model.arrays import Floats


class SolveFailed(RuntimeError):
    """The solver gave up; the message says why in the user's terms."""

    exit_status = 3


class NoPath(SolveFailed):
    """There is no steady state: heat is put in that nothing carries away."""

    def __init__(self, where: str = "") -> None:
        self.where = where
        super().__init__(
            "there is no steady state: "
            + (f"the heat of {where} has no path to the room" if where else "some heat has no path to the room")
        )

    def __reduce__(self) -> tuple[type[NoPath], tuple[str]]:
        """Carry the place, not the text, from one process to another."""
        return type(self), (self.where,)


class Factor:
    """LU of a matrix whose pattern is nearly symmetric and whose diagonal dominates.

    Minimum degree on AᵀA's pattern (SciPy's default) fills in ruinously on stacked sheets; on A+Aᵀ, without
    pivoting, it does not. Upwind streams keep the matrix an M-matrix, so no pivoting is needed.
    """

    def __init__(self, matrix: sp.csc_array) -> None:
        try:
            self._lu = spl.splu(
                sp.csc_matrix(matrix),
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )
        except RuntimeError as error:
            raise NoPath from error

    @property
    def bytes(self) -> float:
        """Memory of the factor: a number and an index for each entry."""
        return 12.0 * float(self._lu.nnz)

    def solve(self, right: Floats) -> Floats:
        """Solution for one right-hand side, shape (n,)."""
        solution: Floats = self._lu.solve(right)
        if not np.all(np.isfinite(solution)):
            raise NoPath
        return solution

"""Sparse LU factors with an ordering fit for stacked sheets."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from thermsim.model.links import Floats


class SolveFailed(RuntimeError):
    """The solver gave up; the message says why in the user's terms."""

    exit_status = 3


NO_PATH = "the equations are singular: some part or sheet has no path for its heat to the room"


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
            raise SolveFailed(NO_PATH) from error

    def solve(self, right: Floats) -> Floats:
        """Solution for one right-hand side, shape (n,)."""
        solution: Floats = self._lu.solve(right)
        if not np.all(np.isfinite(solution)):
            raise SolveFailed(NO_PATH)
        return solution

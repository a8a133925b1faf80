"""Sparse LU factors with an ordering fit for stacked sheets, and solves with matrices near by."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from thermsim.model.arrays import Floats
from thermsim.model.memory import ENTRY_BYTES, too_large
from thermsim.solve.ordering import Layout, lay_out
from thermsim.solve.pardiso import PardisoLU, is_wanted

MOST_KRYLOV = 10  # iterations between restarts; past four of those a new factor is cheaper
RESTARTS = 4


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


class TooLarge(SolveFailed):
    """There is not the memory for so many unknowns; the message says what would fit."""


class Factor:
    """LU of a matrix whose pattern is nearly symmetric and whose diagonal dominates.

    SciPy's own ordering (minimum degree on AᵀA's pattern) fills in ruinously here, mostly for the long rows of air
    nodes that touch many cells; see `ordering`.
    Upwind streams keep the matrix an M-matrix, so no pivoting is needed. `layout` saves the search for an order
    where many matrices share a pattern. `pardiso`: whether to use that library; if not said, see `is_wanted`.
    Raises `NoPath` if the matrix is singular, `TooLarge` before memory runs out.
    """

    def __init__(self, matrix: sp.csc_array, layout: Layout | None = None, pardiso: bool | None = None) -> None:
        layout = layout or lay_out(matrix)
        reason = too_large(matrix.shape[0], layout.stacking, layout.cell)
        if reason is not None:
            raise TooLarge(reason)
        self.solves = 0
        self._lu: SuperLU | PardisoLU
        try:
            if is_wanted(matrix.shape[0]) if pardiso is None else pardiso:
                self._lu = PardisoLU(matrix)
            else:
                self._lu = SuperLU(matrix, layout)
        except RuntimeError as error:
            raise NoPath from error
        except MemoryError as error:
            raise TooLarge(
                f"memory ran out over {matrix.shape[0]:,} unknowns; a larger run.cell gives fewer"
            ) from error

    @property
    def bytes(self) -> float:
        """Memory of the factor."""
        return self._lu.bytes

    def solve(self, right: Floats, transposed: bool = False) -> Floats:
        """Solution for one right-hand side, shape (n,), of the matrix or its transpose; counted in `solves`."""
        self.solves += 1
        solution = self._lu.solve(right, transposed)
        if not np.all(np.isfinite(solution)):
            raise NoPath
        return solution


class SuperLU:
    """LU by SuperLU in the order of a layout, without pivoting. Raises `RuntimeError` if it meets a zero pivot."""

    def __init__(self, matrix: sp.csc_array, layout: Layout) -> None:
        self._order = layout.order
        self._lu = spl.splu(
            sp.csc_matrix(matrix[layout.order][:, layout.order]),
            permc_spec="NATURAL",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )

    @property
    def bytes(self) -> float:
        """A number and an index for each entry: a tenth more than is held, and what is taken while it is made."""
        return ENTRY_BYTES * float(self._lu.nnz)

    def solve(self, right: Floats, transposed: bool = False) -> Floats:
        """Solution for one right-hand side, shape (n,)."""
        solution = np.empty(right.shape)
        solution[self._order] = self._lu.solve(right[self._order], "T" if transposed else "N")
        return solution


def solve_near(factor: Factor, matrix: sp.csc_array, right: Floats, rtol: float) -> Floats | None:
    """Solve with a matrix near the one that was factored, by GMRES; None where a new factor is cheaper.

    `right`: shape (n,); `rtol`: residual left, relative to it. Iterations are counted in `factor.solves`.
    """
    ahead = spl.LinearOperator(matrix.shape, factor.solve, dtype=float)
    solution, failed = spl.gmres(
        matrix, right, rtol=rtol, atol=0.0, restart=MOST_KRYLOV, maxiter=RESTARTS, M=ahead
    )  # fmt: skip
    return None if failed else np.asarray(solution)

"""Factors by MKL's PARDISO, where `pypardiso` is installed: faster than SuperLU on large boxes, slower on small."""

from __future__ import annotations

import os
from functools import lru_cache
from weakref import finalize

import scipy.sparse as sp

from thermsim.model.arrays import Floats

ASKED_BY = "THERMSIM_PARDISO"  # an environment variable: 1 asks for it at any size, 0 turns it off
FOUND_MKL = "PYPARDISO_MKL_RT"  # where pypardiso looks first
LARGE = 100_000  # unknowns; from here on it was a tenth to a third faster, on one thread


def is_wanted(unknowns: int) -> bool:
    """Whether to take PARDISO for so many unknowns: as the environment says, else for many if it is there."""
    asked = os.environ.get(ASKED_BY, "")
    return asked != "0" if asked else unknowns >= LARGE and is_there()


@lru_cache(maxsize=1)
def is_there() -> bool:
    """Whether `pypardiso` can be imported and finds MKL."""
    try:
        import pypardiso  # noqa: F401
    except ImportError:
        return False
    return True


class PardisoLU:
    """LU of a matrix whose diagonal dominates. Raises `RuntimeError` if it is singular, `ImportError` without MKL."""

    def __init__(self, matrix: sp.csc_array) -> None:
        from pypardiso import PyPardisoSolver
        from pypardiso.pardiso_wrapper import PyPardisoError

        self._matrix = sp.csr_matrix(matrix)
        self._solver = PyPardisoSolver()  # one for each factor: it holds but one matrix
        os.environ.setdefault(FOUND_MKL, self._solver.libmkl._name)  # the next need not search the disk for it
        # our own settings: nested dissection, no scaling, matching or refinement, which an M-matrix does not need
        for place, value in ((1, 1), (2, 2), (8, 0), (10, 13), (11, 0), (13, 0), (18, -1)):
            self._solver.set_iparm(place, value)
        # MKL's memory is not Python's: it must be told
        finalize(self, self._solver.free_memory, everything=True)
        try:
            self._solver.factorize(self._matrix)
        except (PyPardisoError, ValueError) as error:
            raise RuntimeError(str(error)) from error
        if self._solver.get_iparm(14):  # pivots that were put in place of zeros
            raise RuntimeError("singular")

    @property
    def bytes(self) -> float:
        """Memory of the factor, and of the two copies of the matrix that go with it."""
        kilobytes = int(self._solver.get_iparm(16)) + int(self._solver.get_iparm(17))
        copies = 2 * int(12 * self._matrix.nnz + 4 * self._matrix.shape[0])
        return 1024.0 * kilobytes + copies

    def solve(self, right: Floats, transposed: bool = False) -> Floats:
        """Solution for one right-hand side, shape (n,)."""
        self._solver.set_iparm(12, 2 if transposed else 0)
        solution: Floats = self._solver.solve(self._matrix, right)
        return solution

"""SciPy's `solve_ivp` with BDF and a sparse Jacobian, as a script would call it and with its ordering repaired."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from time import process_time
from typing import Any

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.integrate._ivp import bdf

from tests.benchmarks.box import END, Floats, box
from tests.benchmarks.linear import TIMES, Linear, error
from tests.benchmarks.reference import system_of
from tests.benchmarks.stepping import CLOSE, ERRATIC, Reading, peak_mb
from thermsim.model.build import build

REQUIRES = "scipy"
PLAIN = (1e-3, 1e-2)  # relative tolerance, absolute tolerance (K)
TIGHTER = ((3e-4, 3e-3), (1e-4, 1e-3), (3e-5, 3e-4))
OPTIONS: dict[bool, dict[str, Any]] = {
    False: {},
    True: {"permc_spec": "MMD_AT_PLUS_A", "diag_pivot_thresh": 0.0, "options": {"SymmetricMode": True}},
}


@dataclass
class Counted:
    """`splu` that counts and times what it is asked for."""

    options: dict[str, Any]
    factors: int = 0
    solves: int = 0
    seconds: float = 0.0

    def __call__(self, matrix: sp.csc_array) -> Any:
        began = process_time()
        lu = spl.splu(matrix, **self.options)
        self.factors += 1
        self.seconds += process_time() - began
        return Counting(self, lu.solve)


@dataclass(frozen=True)
class Counting:
    """A factor whose solves are counted."""

    counts: Counted
    within: Callable[[Floats], Floats]

    def solve(self, right: Floats) -> Floats:
        """Solution, counted."""
        began = process_time()
        solution = self.within(right)
        self.counts.solves += 1
        self.counts.seconds += process_time() - began
        return solution


@contextmanager
def counted(ordered: bool) -> Iterator[Counted]:
    """BDF's `splu` replaced for a while."""
    kept, counts = bdf.splu, Counted(OPTIONS[ordered])
    bdf.splu = counts
    try:
        yield counts
    finally:
        bdf.splu = kept


def integrate(system: Linear, tolerances: tuple[float, float]) -> NDArray[np.float32]:
    """Fields at `TIMES`, shape (times, nodes)."""
    capacity = system.mass.diagonal()
    assert capacity.min() > 0, "solve_ivp takes no massless nodes"
    jacobian = sp.csc_array(sp.diags_array(-1 / capacity) @ system.stiffness)

    def rate(_: float, temperature: Floats) -> Floats:
        slope: Floats = (system.load - system.stiffness @ temperature) / capacity
        return slope

    relative, absolute = tolerances
    found = solve_ivp(
        rate, (0, END), system.start, method="BDF", jac=jacobian, t_eval=TIMES, rtol=relative, atol=absolute
    )
    assert found.success, found.message
    fields: NDArray[np.float32] = found.y.T.astype(np.float32)
    return fields


def tolerances_needed(unknowns: int, exact: NDArray[np.float32]) -> tuple[float, float]:
    """The loosest of the tolerances that meets `CLOSE` on a smaller box."""
    system = system_of(build(box(unknowns)))
    with counted(True):
        for tolerances in (PLAIN, *TIGHTER):
            if error(integrate(system, tolerances), exact) <= CLOSE:
                return tolerances
    raise AssertionError(f"none of the tolerances meets {CLOSE} K")


def measure_ivp(
    unknowns: int, ordered: bool, most: float, tolerances: tuple[float, float], exact: Callable[[], Any]
) -> Reading:
    """The warm-up at plain tolerances and at those needed; `exact()` gives the reference, or None.

    As written it is only run where one factor leaves hope to end in time; beyond, the counts of the run with the
    ordering repaired are multiplied by one factor and one solve.
    """
    began = process_time()
    system = system_of(build(box(unknowns)))
    reading = Reading(system.start.size, process_time() - began, at=f"rtol {tolerances[0]:g}")
    if not ordered:
        reading.said.append(ERRATIC)
    fill = None if ordered else one_of_each(system)
    hopeless = fill is not None and fill[0] * 20 > most
    fields = []
    for wanted in (PLAIN, tolerances):
        with counted(ordered or hopeless) as counts:
            began = process_time()
            fields.append(integrate(system, wanted))
            seconds = process_time() - began
        if hopeless and fill:
            seconds += counts.factors * fill[0] + counts.solves * fill[1] - counts.seconds
        kind = "plain" if not reading.more else "equal"
        reading.more |= {f"{kind}_factors": counts.factors, f"{kind}_solves": counts.solves}
        if kind == "plain":
            reading.seconds = seconds
        reading.equal = seconds
    if hopeless and fill:
        reading.said.append(f"times extrapolated from one factor of {fill[0]:.0f} s and the counts with good ordering")
    reading.peak_mb = peak_mb()
    reference = exact()
    if reference is not None:
        reading.error, close = (error(one, reference) for one in fields)
        reading.more["equal_error_k"] = close
        if close > CLOSE:
            reading.said.append(f"at its tighter tolerance still {close:.2g} K off")
    return reading


def one_of_each(system: Linear) -> tuple[float, float]:
    """Seconds of one factor and one solve of M/20s + K with SciPy's own ordering."""
    matrix = system.shifted(20.0)
    began = process_time()
    lu = spl.splu(matrix)
    factor = process_time() - began
    began = process_time()
    lu.solve(system.load)
    return factor, process_time() - began

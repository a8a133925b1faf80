"""What memory a factor will take, by a law fitted to measured ones, and what to do where that is too much."""

from __future__ import annotations

from math import ceil, floor, log2, log10, sqrt

from thermsim.model.available import available_bytes

ENTRY_BYTES = 12.0  # a number and an index
# entries per unknown of s stacked sheets with P unknowns each: PER_SHEET · s · log₂(P / SMALLEST). The form is that of
# nested dissection in the plane (George, 1973); the constants lie above what digitiser boxes and stacks of 1 to 6
# sheets took, from 3 000 unknowns to a million
PER_SHEET, SMALLEST = 8.5, 140.0
FEWEST = 10.0  # entries per unknown
TYPICAL_STACKING = 2.5  # where only the number of unknowns is known
MODEL_BYTES = 2700.0  # per unknown, while a model is built


def factor_bytes(unknowns: int, stacking: float = TYPICAL_STACKING) -> float:
    """Memory a factor takes while it is made, for unknowns in `stacking` sheets joined face to face (1 or more).

    From a tenth too little to two fifths too much, for 10 000 unknowns to a million.
    """
    per_unknown = PER_SHEET * stacking * log2(max(unknowns / stacking / SMALLEST, 1.0))
    return ENTRY_BYTES * unknowns * max(per_unknown, FEWEST)


def most_unknowns(available: float, stacking: float = TYPICAL_STACKING, each: float = 0.0) -> int:
    """The most unknowns whose factor, and `each` bytes more per unknown, fit into memory."""
    low, high = 0, int(available / ENTRY_BYTES / FEWEST) + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if factor_bytes(middle, stacking) + each * middle <= available else (low, middle)
    return low


def too_large(unknowns: int, stacking: float, cell: float | None, each: float = 0.0) -> str | None:
    """Why so many unknowns are too many for the memory there is, and what to do; None if they are not.

    `stacking`: see `factor_bytes`; `cell`: the grid's, m, for advice on a larger one; `each`: bytes an unknown beside
    the factor's.
    """
    needed, available = factor_bytes(unknowns, stacking) + each * unknowns, available_bytes()
    if needed <= available:
        return None
    text = f"{unknowns:,} unknowns need about {size_text(needed)} of memory, and {size_text(available)} is available"
    fit = most_unknowns(available, stacking, each)
    if cell is not None and fit:
        wider = _rounded_up(1e3 * cell * sqrt(unknowns / fit))
        fewer = int(unknowns * (1e3 * cell / wider) ** 2)
        advice = f"run.cell = {wider:g} mm in place of {1e3 * cell:.3g} mm gives about {_round(fewer):,} unknowns and"
    else:
        fewer = unknowns // 4
        advice = f"a run.cell twice as large gives about {_round(fewer):,} unknowns and"
    return f"{text}; {advice} needs {size_text(factor_bytes(fewer, stacking) + each * fewer)}"


def size_text(count: float) -> str:
    """A number of bytes as a person says it."""
    return f"{count / 1e9:.2g} GB" if count >= 1e8 else f"{count / 1e6:.2g} MB"


def _rounded_up(value: float) -> float:
    """To two figures."""
    unit = 10.0 ** (floor(log10(value)) - 1)
    return round(ceil(value / unit - 1e-9) * unit, 12)


def _round(count: int) -> int:
    """To two figures."""
    return int(float(f"{count:.1e}"))

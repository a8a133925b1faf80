"""From when on a held pressure falls evenly: filling has warmed the gas, and hoses give way at first."""

from __future__ import annotations

from math import hypot

from thermsim.bench.trend import FEWEST, Trend, trend
from thermsim.model.arrays import Floats

TRIED = tuple(0.05 * k for k in range(13))  # shares of the log left out, the smallest that will do
ALIKE = 2.0  # standard uncertainties between the slopes of two halves


def settled_from(time: Floats, counted: Floats) -> tuple[float, bool]:
    """When (s) a log's pressure, temperature taken out (n,), begins to fall evenly, and whether it ever does.

    Even: both halves of what remains have one slope within its uncertainty.
    """
    start = 0.0
    for share in TRIED:
        start = float(time[0] + share * (time[-1] - time[0]))
        halves = _halves(time, counted, start)
        if halves is None:
            break
        if abs(halves[0].slope - halves[1].slope) <= ALIKE * hypot(halves[0].u_slope, halves[1].u_slope):
            return start, True
    return start, False


def _halves(time: Floats, counted: Floats, start: float) -> tuple[Trend, Trend] | None:
    middle = 0.5 * (start + time[-1])
    early, late = (time >= start) & (time < middle), time >= middle
    if min(early.sum(), late.sum()) < FEWEST:
        return None
    return trend(time[early], counted[early]), trend(time[late], counted[late])

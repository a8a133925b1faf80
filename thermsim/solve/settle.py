"""When is it warm: entering and staying within a tolerance, and the published rate criteria.

A criterion is always given with the change that is still to come after it is met, for a rate criterion met
early on a slow box says little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats


@dataclass(frozen=True)
class Criterion:
    """`change` (K) over a `window` (s); `rate` criteria look at the slope, the others at the spread in the window."""

    name: str
    change: float
    window: float
    rate: bool
    source: str


CRITERIA = {
    c.name: c
    for c in (
        Criterion("1 K/h", 1.0, 3600.0, True, "IEC 60598 (luminaires): less than 1 °C per hour"),
        Criterion("2 K/h", 2.0, 3600.0, True, "IEC 60034-1 (machines): at most 2 K per hour"),
        Criterion("2 K in 1 h", 2.0, 3600.0, False, "IEC 60601-1 as commonly read: at most 2 °C in 1 h"),
        Criterion("3 K in 30 min", 3.0, 1800.0, False, "IEC 62368-1 B.1.6: at most 3 K in 30 min"),
        Criterion("1 K in 5 min", 1.0, 300.0, False, "IEC 62368-1 B.1.6, IEC 61810-7: at most 1 K in 5 min"),
    )
}


@dataclass(frozen=True)
class Met:
    """When a criterion is met (s, None if not within the record) and the change still to come then (K)."""

    time: float | None
    residual: float | None


def warm_up(times: Floats, values: Floats, end: float, tolerance: float) -> float | None:
    """Time from which values stay within ±tolerance of their end value, linear between samples; None if never.

    `times` (s) rising, `values` of the same shape (n,), in the unit of `tolerance`.
    """
    outside = np.abs(values - end) > tolerance
    if outside[-1]:
        return None
    if not outside.any():
        return float(times[0])
    last = int(np.flatnonzero(outside)[-1])
    before, after = values[last] - end, values[last + 1] - end
    edge = np.copysign(tolerance, before)
    share = (before - edge) / (before - after)
    return float(times[last] + share * (times[last + 1] - times[last]))


def criterion_met(times: Floats, values: Floats, end: float, criterion: Criterion) -> Met:
    """First time at which a criterion holds for good within the record.

    A window criterion is met at the window's end, as a person at the bench would see it. `values`: shape (n,)
    of one reading, or (n, readings) when all must meet it.
    """
    if times[-1] <= times[0]:
        return Met(None, None)
    table = values.reshape(times.size, -1)
    fine = np.union1d(times, np.linspace(times[0], times[-1], 2001))
    readings = np.column_stack([np.interp(fine, times, column) for column in table.T])
    if criterion.rate:
        slope = np.abs(np.gradient(readings, fine, axis=0)) * criterion.window
        fails = (slope > criterion.change).any(axis=1)
    else:
        earlier = np.column_stack([np.interp(fine - criterion.window, times, column) for column in table.T])
        fails = (np.abs(readings - earlier) > criterion.change).any(axis=1)
        fails |= fine - criterion.window < times[0]
    if fails[-1]:
        return Met(None, None)
    first = int(np.flatnonzero(fails)[-1]) + 1 if fails.any() else 0
    residual = float(np.abs(readings[first] - np.asarray(end)).max())
    return Met(float(fine[first]), residual)


def drift(temperature: Floats, end: float, per_kelvin: float | None, doubling: float | None) -> Floats:
    """Relative error of a reading against its settled value: s·(T − T_end), or 2^((T − T_end)/doubling) − 1."""
    if per_kelvin is not None:
        return per_kelvin * (temperature - end)
    assert doubling is not None
    result: Floats = np.exp2((temperature - end) / doubling) - 1.0
    return result

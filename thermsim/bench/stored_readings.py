"""The model's value of a log's channels from a stored result: what has a curve there, or stands still in its case."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from thermsim.case.case import Case
from thermsim.case.channels import split_channel
from thermsim.model.arrays import Floats
from thermsim.store.result import Result

M3_PER_H = 1 / 3600
L_PER_MIN = 1 / 6e4


def stored_readings(case: Case, result: Result, channels: Iterable[str], times: Floats) -> dict[str, Floats]:
    """Values at times, linear between samples; NaN outside the run. Channels without a curve are left out."""
    found = {}
    for channel in channels:
        curve = _curve_of(case, channel)
        if curve is None or (channel == "noise" and result.summary["noise"]["with_room_dba"] is None):
            continue
        group, name, factor = curve
        series = result.curves.get(group, {}).get(name)
        if series is not None:
            found[channel] = factor * np.interp(times, series.time, series.values, left=np.nan, right=np.nan)
    return found


def _curve_of(case: Case, channel: str) -> tuple[str, str, float] | None:
    """Group and name of a channel's curve, and the factor that takes it to SI."""
    spec = case.spec
    kind, name, quantity = split_channel(channel)
    if kind in ("part", "probe") and not quantity:
        return f"{kind}s", name, 1.0
    if kind == "airway" and quantity in ("outlet", "flow"):
        return "air", f"{name} {quantity}", M3_PER_H if quantity == "flow" else 1.0
    if kind == "loop" and quantity == "flow":
        return "coolant", f"{name} flow", L_PER_MIN
    if kind in ("plate", "radiator") and quantity == "outlet":
        return "coolant", f"{kind}.{name} outlet", 1.0
    if channel == "noise":
        return "noise", "with room", 1.0
    governor = next((name for name, table in spec.governor.items() if channel in table.drives), None)
    return None if governor is None else ("governor", governor, 0.01)

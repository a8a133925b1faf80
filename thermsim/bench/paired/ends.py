"""What a channel came to at the end of one run: its mean over the last minutes, or what its curve tends to."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np

from thermsim.bench.fit.correlated import inflation
from thermsim.bench.fit.step_response import StepResponse, TooShort, step_response
from thermsim.bench.rates import SLOPE_OVER, Line, line
from thermsim.bench.uncertainty import Component
from thermsim.model.arrays import Floats

LEAST_WINDOW = 3  # readings
TAIL = 1 / 3  # of the record, from which the scatter of its last minutes is told
SURE = 2.0  # standard uncertainties, beyond which what is still to come is more than noise


@dataclass(frozen=True)
class End:
    """The end value of one channel in one run, with what makes it unsure within that run.

    `last`: mean over the last minutes; `to_come`: from there to `value`, zero unless extrapolated; `slope`: at the end,
    unit/s, with its standard uncertainty. `late`: what `value` and `last` have more than was read, for a room that the
    box follows late.
    """

    value: float
    within: tuple[Component, ...]
    last: float
    extrapolated: bool
    tail: Line
    response: StepResponse | None
    late: float = 0.0

    @property
    def u(self) -> float:
        """Standard uncertainty from within the run alone."""
        return sqrt(sum(one.u**2 for one in self.within))

    @property
    def to_come(self) -> float:
        """What the curve adds to the last minutes."""
        return self.value - self.last

    def facts(self) -> dict[str, Any]:
        """As plain values, rates by the hour."""
        found = self.response
        slow = found.time_constants[-1] if found and found.time_constants else None
        return {
            "value": self.value, "u": self.u, "last": self.last, "to_come": self.to_come,
            "extrapolated": self.extrapolated,
            "per_h": 3600 * self.tail.slope, "per_h_u": 3600 * self.tail.u_slope,
            "time_constant_s": slow.value if slow and found and found.is_known else None,
            "time_constant_u_s": slow.standard if slow and found and found.is_known else None,
        }  # fmt: skip


def end_of(time: Floats, values: Floats, window: float, curve: bool = True) -> End | None:
    """The end of a record (s; NaN where missing); None where its last minutes hold too few readings.

    `window`: the last so many seconds are averaged. With `curve`, a record that still moves is extrapolated by one or
    two exponentials, whichever it tells; else what may be to come is a component of the uncertainty.
    """
    there = np.isfinite(values)
    time, values = time[there], values[there]
    inside = time > time[-1] - window if time.size else there
    if np.count_nonzero(inside) < LEAST_WINDOW:
        return None
    late = time >= time[-1] - max(window, min(SLOPE_OVER, time[-1] - time[0]), TAIL * (time[-1] - time[0]))
    trend = line(time[late] - time[-1], values[late])
    scattered = values[late] - trend.level - trend.slope * (time[late] - time[-1])
    count = int(np.count_nonzero(inside))
    each = inflation(scattered, 2)
    freedom = max(scattered.size / each - 2.0, 1.0)
    last = float(values[inside].mean())
    noise = Component("noise of the last minutes", float(trend.scatter) * sqrt(min(each / count, 1.0)), freedom)
    found = _response(time, values) if curve else None
    if found is None:
        return End(last, (noise,), last, False, trend, None)
    middle = 0.5 * window
    coming = found.curve.end - float(found.curve.at(time[-1:] - time[0] - middle)[0])
    u_coming = found.still_to_come.standard
    moves = bool(found.time_constants) and (abs(coming) > SURE * u_coming or found.is_extrapolated)
    if moves and abs(coming) > noise.u / 3:
        curve_u = Component("curve to the end", found.end.standard, found.degrees_of_freedom)
        return End(found.end.value, (curve_u,), last, True, trend, found)
    slowest = found.time_constants[-1].value if found.time_constants else 0.0
    bound = min(sqrt(coming**2 + u_coming**2), (abs(trend.slope) + trend.u_slope) * slowest)
    return End(
        last, (noise, Component("what may be to come", bound, found.degrees_of_freedom)), last, False, trend, found
    )


def _response(time: Floats, values: Floats) -> StepResponse | None:
    try:
        return step_response(time, values)
    except TooShort:
        return None

"""Fan and pump curves, how they scale with speed, and where they meet a system's resistance."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import pairwise

from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

Curve = Callable[[float], float]


class PressureCurve:
    """Pressure rise (Pa) of a fan or pump against flow (m³/s), through measured points, at full speed.

    Shape-preserving cubic (PCHIP) between points: no overshoot. Beyond the last point the pressure falls on
    along a straight line and becomes negative; for reverse flow it rises likewise.
    """

    def __init__(self, flow: Sequence[float], pressure: Sequence[float]) -> None:
        if len(flow) != len(pressure) or len(flow) < 2:
            raise ValueError("a curve needs at least two points, and as many pressures as flows")
        if flow[0] < 0.0 or any(b <= a for a, b in pairwise(flow)):
            raise ValueError("a curve's flows must start at zero or above and rise from point to point")
        if any(b > a for a, b in pairwise(pressure)):
            raise ValueError("a curve's pressures must not rise with flow (leave out the stall dip)")
        if pressure[0] <= 0.0 or pressure[-1] < 0.0:
            raise ValueError("a curve must start at a positive pressure and not end below zero")
        self.flow = tuple(float(value) for value in flow)
        self.pressure = tuple(float(value) for value in pressure)
        cubic = PchipInterpolator(self.flow, self.pressure)
        self._pieces: list[tuple[float, ...]] = [tuple(piece) for piece in cubic.c.T.tolist()]
        self._first_slope = min(0.0, self._pieces[0][2])
        end_slope = float(cubic.derivative()(self.flow[-1]))
        self._last_slope = min(end_slope, -self.pressure[0] / self.flow[-1])

    def at(self, flow: float) -> float:
        """Pressure (Pa) at a flow (m³/s), full speed."""
        if flow >= self.flow[-1]:
            return self.pressure[-1] + self._last_slope * (flow - self.flow[-1])
        if flow < self.flow[0]:
            return self.pressure[0] + self._first_slope * (flow - self.flow[0])
        i = bisect_right(self.flow, flow) - 1
        c3, c2, c1, c0 = self._pieces[i]
        x = flow - self.flow[i]
        return c0 + x * (c1 + x * (c2 + x * c3))

    def scaled(self, speed: float, count_parallel: int = 1, count_series: int = 1, density_ratio: float = 1.0) -> Curve:
        """Curve at a relative speed: flow as n, pressure as n² and as density; parallel or series.

        The affinity ("fan") laws, ASHRAE Handbook: HVAC Systems and Equipment. At zero speed no pressure.
        """
        if speed <= 0.0:
            return lambda flow: 0.0
        flow_scale = 1.0 / (speed * count_parallel)
        pressure_scale = speed * speed * count_series * density_ratio
        return lambda flow: pressure_scale * self.at(flow * flow_scale)


def meeting_flow(available: Curve, system: Curve, guess: float) -> float:
    """Flow (m³/s) at which a falling available pressure meets a rising system pressure; zero if none starts.

    `guess`: a flow of the right size, the search doubles it until the curves have crossed. Relative error
    1e-11.
    """

    def surplus(flow: float) -> float:
        return available(flow) - system(flow)

    if surplus(0.0) <= 0.0:
        return 0.0
    high = guess
    for _ in range(60):
        if surplus(high) <= 0.0:
            return float(brentq(surplus, 0.0, high, xtol=1e-30, rtol=1e-11))
        high *= 2.0
    raise ValueError("the system's pressure never reaches the curve's: it must not fall with flow")

"""What a held test says: the rate, and a budget of all that makes it unsure, as JCGM 100 has it."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any

from thermsim.bench.leak.held import Held
from thermsim.bench.trend import Trend, trend
from thermsim.bench.uncertainty import Component, Measured
from thermsim.case.leaking import Leak
from thermsim.model.arrays import Floats
from thermsim.physics.pressure_decay import COUNTED_AT_K, corrected_drop, leak_rate
from thermsim.units import format_quantity

BAROMETER = 10.0  # Pa, half width of an even spread, last digit of a usual one; common practice, no source
WEATHER = 100.0 / 3600  # Pa/s, half width, what the atmosphere may change unseen; common practice, no source
WATCH = 1.0  # s, half width, of a time taken by eye; common practice, no source
EVEN = sqrt(3)
VOLUME, SCATTER, WEATHER_NAME = "volume", "scatter of the log", "atmosphere while held"


@dataclass(frozen=True)
class Input:
    """A row of the budget: standard uncertainty of an input, and what one unit of it does to the rate."""

    what: str
    how: str  # its spread in words
    u: float
    unit: str
    slope: float  # Pa·m³/s per unit
    freedom: float = float("inf")

    @property
    def share(self) -> float:
        """Its standard uncertainty of the rate, Pa·m³/s."""
        return abs(self.slope) * self.u


@dataclass(frozen=True)
class Decay:
    """Rate of a test, Pa·m³/s at 20 °C, positive for gas lost (or taken in, where it was held below the atmosphere)."""

    held: Held
    rate: float
    drop: float  # Pa that the reading fell
    corrected: float  # Pa of that which temperature does not explain
    inputs: tuple[Input, ...]
    per_pascal: float  # rate of a pascal that is left, m³/s
    line: Trend | None  # through the pressure at 20 °C

    @property
    def measured(self) -> Measured:
        """The rate with its uncertainty."""
        return Measured(self.rate, tuple(Component(one.what, one.share, one.freedom) for one in self.inputs))

    def apart_from(self, *names: str) -> float:
        """Standard uncertainty of the rate without some inputs."""
        return sqrt(sum(one.share**2 for one in self.inputs if one.what not in names))

    def budget(self) -> list[dict[str, Any]]:
        """The inputs as plain facts, what weighs most first."""
        rows = sorted(self.inputs, key=lambda one: -one.share)
        total = self.measured.u
        return [
            {
                "input": one.what, "spread": one.how, "u": one.u, "unit": one.unit,
                "rate_per_unit_pa_m3_per_s": one.slope, "u_rate_pa_m3_per_s": one.share,
                "share_of_variance": (one.share / total) ** 2 if total else 0.0,
            }
            for one in rows
        ]  # fmt: skip


def decay(held: Held, leak: Leak, sign: float = 1.0) -> Decay:
    """The rate of one test with its budget; `sign`: −1 where gas comes in."""
    assert leak.volume is not None
    assert leak.volume_uncertainty is not None
    first, last = held.ends
    line = trend(held.time, held.counted) if held.logged else None
    if line is None:
        rate, corrected = leak_rate(leak.volume, first, last, held.span), corrected_drop(first, last)
    else:
        rate, corrected = -leak.volume * line.slope, -line.slope * held.span * first.kelvin / COUNTED_AT_K
    rate, corrected = sign * rate, sign * corrected
    inputs = [
        *_readings(held, leak),
        *_air(held, leak),
        Input(VOLUME, "as stated", leak.volume_uncertainty, "m3", rate / leak.volume),
    ]
    if line is None:
        inputs.append(Input("time", f"even, ±{WATCH:g} s", WATCH / EVEN, "s", -rate / held.span))
    else:
        inputs.append(Input(SCATTER, "slope of the line", line.u_slope, "Pa/s", -leak.volume, line.freedom))
    return Decay(held, rate, sign * held.drop, corrected, tuple(inputs), per_pascal(held, leak)[0], line)


def per_pascal(held: Held, leak: Leak) -> tuple[float, float]:
    """What one pascal more at the begin, and at the end, does to the rate, 1/s·m³."""
    assert leak.volume is not None
    first, last = (leak.volume * COUNTED_AT_K / held.span / one.kelvin for one in held.ends)
    return first, -last


def _readings(held: Held, leak: Leak) -> list[Input]:
    """Gauge and thermometer at both ends: they do not drift alike, so each end has its own."""
    digit = (leak.resolution or 0.0) / sqrt(12)
    gauge = sqrt(digit**2 + (leak.gauge_uncertainty or 0.0) ** 2)
    told = [] if leak.gauge_uncertainty is None else [f"{format_quantity(leak.gauge_uncertainty, 'pressure')} stated"]
    told += [f"last digit {format_quantity(leak.resolution, 'pressure')}"] if leak.resolution is not None else []
    slopes = per_pascal(held, leak)
    half = leak.temperature_uncertainty
    rows = []
    for end, slope, reading in zip(("first", "last"), slopes, held.ends, strict=True):
        rows.append(Input(f"{end} pressure", ", ".join(told), gauge, "Pa", slope))
        per_kelvin = -slope * reading.pressure / reading.kelvin
        rows.append(Input(f"{end} temperature", f"even, ±{half:g} K", half / EVEN, "K", per_kelvin))
    return rows


def _air(held: Held, leak: Leak) -> list[Input]:
    """What is not known of the atmosphere under a gauge."""
    if not leak.gauge:
        return []
    slope = per_pascal(held, leak)[1]
    if held.logged_air or leak.atmosphere_after is not None:
        half, how = BAROMETER * sqrt(2), f"barometer, even, ±{BAROMETER:g} Pa at each end; assumed"
    else:
        half = WEATHER * held.span
        how = f"not measured again, even, ±{WEATHER * 3600:g} Pa an hour; assumed"
    return [Input(WEATHER_NAME, how, half / EVEN, "Pa", slope)]


def fitted(one: Decay, time: Floats) -> Floats | None:
    """The line through a log's pressure at 20 °C, Pa, at times of the test."""
    return None if one.line is None else one.line.level + one.line.slope * (time - one.line.middle)

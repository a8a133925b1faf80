"""Governors: from a sensor's temperature to the speed of fans and pumps.

In an implicit step a governor is a function of its sensor's temperature alone: its own state (speed, integral)
follows in closed form from the start of the stage. The solver needs that function and its slope.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from thermsim.case.running import Governor
from thermsim.model.arrays import Floats, Ints
from thermsim.model.system import Model

SLOPE_STEP = 1e-4  # K, for the slope of speed against temperature


@dataclass(frozen=True)
class GovernorState:
    """Speed (relative to rated), integral term, and whether a switch is on."""

    speed: float
    integral: float
    on: bool = False

    def plus(self, rate: GovernorRate, time: float) -> GovernorState:
        """The state moved on by a rate over a time."""
        return GovernorState(self.speed + time * rate.speed, self.integral + time * rate.integral, self.on)


@dataclass(frozen=True)
class GovernorRate:
    """Rates of speed and integral, 1/s."""

    speed: float
    integral: float


class Sensor(Protocol):
    """Reads the hottest of some places in a state."""

    def values(self, x: Floats) -> Floats:
        """Temperatures of all its places, °C."""

    def changes(self, change: Floats) -> Floats:
        """How a change of state changes them, K."""


@dataclass(frozen=True)
class NodeSensor:
    """Reads nodes of the full model."""

    nodes: Ints

    def values(self, x: Floats) -> Floats:
        """Temperatures of the nodes, °C."""
        return x[self.nodes]

    changes = values


@dataclass(frozen=True)
class GovernorLaw:
    """One governor on a model: where it reads and what it does."""

    name: str
    table: Governor
    sensor: Sensor

    def read(self, x: Floats) -> float:
        """The sensor's temperature, °C."""
        return float(self.sensor.values(x).max())

    def hottest(self, x: Floats) -> int:
        """Which of the sensor's places is read."""
        return int(self.sensor.values(x).argmax())

    def start(self) -> GovernorState:
        """State at switch-on."""
        table = self.table
        speed = table.start if table.start is not None else table.min_speed
        return GovernorState(speed, min(max(speed, table.min_speed), table.max_speed), speed > table.min_speed)

    def demand(self, reading: float, integral: float, on: bool) -> float:
        """The speed the law asks for, within its limits."""
        table = self.table
        if table.law == "hold":
            assert table.gain is not None
            assert table.set_point is not None
            wanted = integral + table.gain * (reading - table.set_point)
        elif table.law == "curve":
            assert table.curve is not None
            wanted = float(np.interp(reading, [t for t, _ in table.curve], [s for _, s in table.curve]))
        else:
            wanted = table.max_speed if on else table.min_speed
        return min(max(wanted, table.min_speed), table.max_speed)

    def advance(self, known: GovernorState, span: float, reading: float) -> GovernorState:
        """Implicit stage: state y with y = known + span · rate(y, reading)."""
        table = self.table
        integral = known.integral
        if table.law == "hold":
            assert table.gain is not None
            assert table.set_point is not None
            assert table.reset is not None
            integral += span * table.gain * (reading - table.set_point) / table.reset
            # the integral never leaves the speed's limits, so it does not wind up
            integral = min(max(integral, table.min_speed), table.max_speed)
        demand = self.demand(reading, integral, known.on)
        speed = (known.speed + span / table.lag * demand) / (1 + span / table.lag)
        if table.ramp is not None:
            most = span * table.ramp
            speed = min(max(speed, known.speed - most), known.speed + most)
        return GovernorState(speed, integral, known.on)

    def rate(self, state: GovernorState, reading: float) -> GovernorRate:
        """Rates at a state, as the limit of a very short implicit step."""
        span = 1e-6
        ahead = self.advance(state, span, reading)
        return GovernorRate((ahead.speed - state.speed) / span, (ahead.integral - state.integral) / span)

    def slope(self, known: GovernorState, span: float, reading: float) -> float:
        """Change of the stage's speed per kelvin of the sensor."""
        low = self.advance(known, span, reading - SLOPE_STEP).speed
        high = self.advance(known, span, reading + SLOPE_STEP).speed
        return (high - low) / (2 * SLOPE_STEP)

    def rest(self, speed: float, reading: float, response: float) -> float:
        """The speed at which the law would rest, near one that gives a reading; `response`: kelvin per speed.

        Infinite where a held sensor does not answer to the speed.
        """
        table = self.table
        if table.law == "hold":
            assert table.set_point is not None
            over = reading - table.set_point
            return speed + over / -response if response < 0 else math.copysign(math.inf, over)
        low, high = (self.demand(reading + by, speed, on=False) for by in (-SLOPE_STEP, SLOPE_STEP))
        slope = (high - low) / (2 * SLOPE_STEP)
        return speed + (self.demand(reading, speed, on=False) - speed) / (1 - slope * response)

    def crossed(self, state: GovernorState, reading: float) -> bool:
        """Whether a switch has to be thrown."""
        table = self.table
        if table.law != "switch":
            return False
        assert table.on_above is not None
        assert table.off_below is not None
        return reading < table.off_below if state.on else reading > table.on_above


def governor_laws(model: Model) -> list[GovernorLaw]:
    """The governors of a case, with their sensors found."""
    return [
        GovernorLaw(name, table, NodeSensor(sensor_nodes(model, table.sensor)))
        for name, table in model.case.spec.governor.items()
    ]


def sensor_nodes(model: Model, address: str) -> Ints:
    """Nodes of a sensor: a part, a probe's cell, a sheet (its hottest), an airway's outlet, a loop's coolant."""
    kind, name = address.split(".", 1)
    if kind == "probe":
        probe = model.case.spec.probe[name]
        return np.array([model.site.sheets[probe.on].cell_at(*probe.at)])
    if kind == "airway":
        return model.site.chains[name][-1:]
    if kind == "loop":
        return model.coolant_nodes[name]
    return model.numbers(address)


def speeds_of(laws: list[GovernorLaw], states: list[GovernorState]) -> dict[str, float]:
    """Speeds of everything governed, by address."""
    return {device: state.speed for law, state in zip(laws, states, strict=True) for device in law.table.drives}

"""What comes from outside over time: watts, given temperatures, set speeds, mishaps."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import inf, pi, sin

import numpy as np

from thermsim import units
from thermsim.case.running import Duty, Mishap
from thermsim.case.schema import Spec
from thermsim.case.solid import Part
from thermsim.model.arrays import Floats
from thermsim.model.hydraulics import passable, read_path
from thermsim.model.links import Builder, GivenHeat
from thermsim.model.operating import Controls

Signal = Callable[[float, float], float]  # of the time, and the time from which jumps are taken
DIMENSION = {"watts": "power", "temperature": "temperature", "inlet": "temperature", "air": "temperature"}
KINKS_TO_STOP_AT = 50  # a ramp with more points than this is followed by steps short enough
STEPS_A_KINK = 2  # at least, between points of such a ramp
STEPS_A_SWING = 6  # at least, in a period of a sine


@dataclass(frozen=True)
class Inputs:
    """Watts into each node, shape (nodes,); temperature of each place (°C), shape (places,); controls."""

    power: Floats
    places: Floats
    controls: Controls


class Program:
    """The inputs as functions of time, the times at which they jump, and how long a step may be between."""

    def __init__(self, spec: Spec, builder: Builder, heats: Mapping[str, GivenHeat], mishaps: tuple[str, ...]) -> None:
        self.spec = spec
        self.mishaps = {name: spec.mishap[name] for name in mishaps}
        self._nodes = builder.node_count
        self._names = builder.names
        self._places = list(builder.places)[::-1]  # last made first, as they are numbered
        self._signals = {
            duty.of: _signal(duty, _dimension(duty.of)) for duty in spec.duty.values() if duty.of != "state"
        }
        self._state = next((_states(duty) for duty in spec.duty.values() if duty.of == "state"), None)
        self._heats = heats
        self._fan_air = {
            fan: int(builder.names[f"airway.{name}"][0]) for name, way in spec.airway.items() for fan in way.fans
        }
        self._pumps = {
            loop.pump: (int(builder.names[f"loop.{name} pump"][0]), read_path(loop.path))
            for name, loop in spec.loop.items()
            if loop.flow != 0
        }
        self.breaks = self._find_breaks(spec.run.duration)
        self.longest_step = min((_longest_step(duty) for duty in spec.duty.values()), default=inf)

    def state(self, time: float) -> str:
        """The operating state."""
        return self._state(time) if self._state else self.spec.run.state

    def part_watts(self, name: str, time: float, jumps_at: float | None = None) -> float:
        """Watts of a part."""
        jumps_at = time if jumps_at is None else jumps_at
        signal = self._signals.get(f"part.{name}.watts")
        return signal(time, jumps_at) if signal else watts_in(self.spec.part[name], self.state(jumps_at))

    def room_degc(self, time: float, jumps_at: float | None = None) -> float:
        """Room temperature with its mishaps."""
        jumps_at = time if jumps_at is None else jumps_at
        signal = self._signals.get("room.temperature")
        base = signal(time, jumps_at) if signal else self.spec.room.temperature
        return base + sum(mishap.room_rise or 0.0 for mishap in self._active(jumps_at))

    def at(self, time: float, governed: Mapping[str, float], segment: float | None = None) -> Inputs:
        """Inputs at a time, with the governors' speeds.

        `segment`: a time between two jumps; what jumps is taken from there, so that a step may end on a jump.
        """
        jumps_at = time if segment is None else segment
        speeds = {f"fan.{name}": fan.speed for name, fan in self.spec.fan.items()}
        speeds |= {f"pump.{name}": pump.speed for name, pump in self.spec.pump.items()}
        speeds |= governed
        blocked: dict[str, float] = {}
        closed: set[str] = set()
        for mishap in self._active(jumps_at):
            speeds |= dict.fromkeys(mishap.stops, 0.0)
            closed.update(mishap.airlock)
            blocked |= mishap.blocks
        controls = Controls(speeds, blocked, frozenset(closed))
        return Inputs(self._power(time, controls, jumps_at), self._given(time, jumps_at), controls)

    def _active(self, time: float) -> list[Mishap]:
        return [m for m in self.mishaps.values() if m.at <= time and (m.ends is None or time < m.ends)]

    def _power(self, time: float, controls: Controls, jumps_at: float) -> Floats:
        power, speeds, closed = np.zeros(self._nodes), controls.speeds, controls.closed
        for name in self.spec.part:
            power[self._names[f"part.{name}"]] += self.part_watts(name, time, jumps_at)
        for address, (nodes, share, watts) in self._heats.items():
            signal = self._signals.get(f"{address}.watts")
            power[nodes] += share * (signal(time, jumps_at) if signal else watts)
        for address, node in self._fan_air.items():
            fan = self.spec.fan[address.removeprefix("fan.")]
            power[node] += fan.heat * fan.count * fan.in_series * speeds[address] ** 3
        for address, (node, path) in self._pumps.items():
            if passable(path, closed):  # a pump that moves nothing warms the room with its case, not the coolant
                power[node] += self.spec.pump[address.removeprefix("pump.")].heat * speeds[address] ** 3
        return power

    def _given(self, time: float, jumps_at: float) -> Floats:
        room = self.room_degc(time, jumps_at)
        return np.array([self._place(name, time, jumps_at, room) for name in self._places], dtype=float)

    def _place(self, name: str, time: float, jumps_at: float, room: float) -> float:
        if name == "room":
            return room
        if name in self._signals:
            return self._signals[name](time, jumps_at)
        kind, rest = name.split(".", 1)
        if kind == "airway":
            inlet = self.spec.airway[rest.removesuffix(".inlet")].inlet
            return float(inlet)
        if kind == "film":
            return float(self.spec.film[rest.removesuffix(".air")].air or 0.0)
        edge = self.spec.edge[rest.removesuffix(".temperature").removesuffix(" air")]
        given = edge.temperature if name.endswith(".temperature") else edge.air
        return given if given is not None else room

    def _find_breaks(self, end: float) -> tuple[float, ...]:
        times: set[float] = set()
        for mishap in self.mishaps.values():
            times.add(mishap.at)
            if mishap.ends is not None:
                times.add(mishap.ends)
        for duty in self.spec.duty.values():
            if duty.points is None:
                continue
            knots = (0.0,) if _is_fine(duty) else (0.0, *_knots(duty))  # a repeat begins with a jump
            starts = np.arange(0.0, end, duty.repeat) if duty.repeat is not None else (0.0,)
            times.update(float(start) + knot for start in starts for knot in knots)
        return tuple(sorted(time for time in times if 0 < time < end))


def _knots(duty: Duty) -> list[float]:
    return [units.quantity(point.split(",")[0], "time") for point in duty.points or ()]


def _is_fine(duty: Duty) -> bool:
    """Whether a duty changes too often to stop at every knot."""
    return duty.shape == "ramp" and len(duty.points or ()) > KINKS_TO_STOP_AT


def _longest_step(duty: Duty) -> float:
    """The longest step that does not overlook a swing or a fine ramp, s."""
    if duty.sine is not None:
        return duty.sine.period / STEPS_A_SWING
    if _is_fine(duty):
        knots = _knots(duty)
        return (knots[-1] - knots[0]) / (len(knots) - 1) / STEPS_A_KINK
    return inf


def watts_in(part: Part, state: str) -> float:
    """Watts of a part in an operating state."""
    return part.watts[state] if isinstance(part.watts, dict) else part.watts


def _dimension(address: str) -> str:
    return DIMENSION[address.rsplit(".", 1)[1]]


def _states(duty: Duty) -> Callable[[float], str]:
    pairs = [point.split(",", 1) for point in duty.points or ()]
    times = [units.quantity(time, "time") for time, _ in pairs]
    names = [name.strip() for _, name in pairs]

    def state(time: float) -> str:
        if duty.repeat is not None:
            time = time % duty.repeat
        return names[max(bisect_right(times, time) - 1, 0)]

    return state


def _signal(duty: Duty, dimension: str) -> Signal:
    if duty.sine is not None:
        mean, amplitude = _sine_values(duty, dimension)
        period = duty.sine.period
        return lambda time, jumps_at: mean + amplitude * sin(2 * pi * time / period)
    points = units.points(duty.points, dimensions=("time", dimension))
    times, values = np.array([t for t, _ in points]), np.array([v for _, v in points])

    def signal(time: float, jumps_at: float) -> float:
        if duty.repeat is not None:
            cycle = jumps_at // duty.repeat * duty.repeat
            time, jumps_at = time - cycle, jumps_at - cycle
        if duty.shape == "ramp":
            return float(np.interp(time, times, values))
        return float(values[max(int(np.searchsorted(times, jumps_at, side="right")) - 1, 0)])

    return signal


def _sine_values(duty: Duty, dimension: str) -> tuple[float, float]:
    assert duty.sine is not None
    swing = "difference" if dimension == "temperature" else dimension
    return units.quantity(duty.sine.mean, dimension), units.quantity(duty.sine.amplitude, swing)

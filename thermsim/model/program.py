"""What comes from outside over time: watts, given temperatures, set speeds, mishaps."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import inf, pi, sin

import numpy as np
import scipy.sparse as sp

from thermsim import units
from thermsim.case.running import Duty, Mishap
from thermsim.case.schema import Spec
from thermsim.case.solid import Part
from thermsim.model.arrays import Floats, Ints
from thermsim.model.fill import fills
from thermsim.model.hydraulics import elements, passable, read_path
from thermsim.model.links import Builder, GivenHeat
from thermsim.model.operating import Controls

Signal = Callable[[float, float], float]  # of the time, and the time from which jumps are taken
DIMENSION = {"watts": "power", "temperature": "temperature", "inlet": "temperature", "air": "temperature"}
KINKS_TO_STOP_AT = 50  # a ramp with more points than this is followed by steps short enough
STEPS_A_KINK = 2  # at least, between points of such a ramp
STEPS_A_SWING = 6  # at least, in a period of a sine


@dataclass(frozen=True)
class Inputs:
    """Watts of each source, shape (sources,); temperature of each place (°C), shape (places,); controls."""

    watts: Floats
    places: Floats
    controls: Controls

    @property
    def supplied(self) -> float:
        """Watts of all sources."""
        return float(self.watts.sum())


@dataclass(frozen=True)
class Outside:
    """What does not depend on governors: watts of parts and sources, given temperatures, mishaps under way."""

    watts: Floats
    places: Floats
    speeds: Mapping[str, float]  # of what has stopped
    blocked: Mapping[str, float]
    closed: frozenset[str]


class Program:
    """The inputs as functions of time, the times at which they jump, and how long a step may be between."""

    def __init__(self, spec: Spec, builder: Builder, heats: Mapping[str, GivenHeat], mishaps: tuple[str, ...]) -> None:
        self.spec = spec
        self.mishaps = {name: spec.mishap[name] for name in mishaps}
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
        self.heat = self._heat_matrix(builder.node_count)
        self._set = {f"fan.{name}": fan.speed for name, fan in spec.fan.items()}
        self._set |= {f"pump.{name}": pump.speed for name, pump in spec.pump.items()}
        self._steady_outside = lru_cache(maxsize=64)(self._outside)
        self.swings = any(duty.sine is not None or duty.shape == "ramp" for duty in spec.duty.values())
        self.breaks = self._find_breaks(spec.run.duration)
        self.longest_step = min((longest_step(duty) for duty in spec.duty.values()), default=inf)

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
        outside = self._outside(time, jumps_at) if self.swings else self._steady_outside(jumps_at, jumps_at)
        controls = Controls({**self._set, **governed, **outside.speeds}, outside.blocked, outside.closed)
        return Inputs(self._watts(outside, controls), outside.places, controls)

    def _outside(self, time: float, jumps_at: float) -> Outside:
        """What comes from outside at a time; what jumps is taken from `jumps_at`."""
        speeds: dict[str, float] = {}
        blocked: dict[str, float] = {}
        closed: set[str] = set()
        for mishap in self._active(jumps_at):
            speeds |= dict.fromkeys(mishap.stops, 0.0)
            closed.update(mishap.airlock)
            blocked |= mishap.blocks
        for name, fill in fills(self.spec, self._active(jumps_at)).items():
            closed.update(elements(read_path(self.spec.loop[name].path)) if fill.runs_dry else ())
        given = [self.part_watts(name, time, jumps_at) for name in self.spec.part]
        for address, (_, _, watts) in self._heats.items():
            signal = self._signals.get(f"{address}.watts")
            given.append(signal(time, jumps_at) if signal else watts)
        return Outside(np.array(given), self._given(time, jumps_at), speeds, blocked, frozenset(closed))

    @property
    def devices(self) -> list[str]:
        """Addresses of all fans and pumps."""
        return list(self._set)

    def mishaps_at(self, time: float) -> frozenset[str]:
        """Names of the mishaps under way that change a flow."""
        return frozenset(
            name
            for name, mishap in self.mishaps.items()
            if mishap in self._active(time) and (mishap.stops or mishap.airlock or mishap.blocks or mishap.coolant_lost)
        )

    def stretches(self) -> dict[frozenset[str], float]:
        """A time between jumps for each set of mishaps that change a flow."""
        stops = [0.0, *self.breaks, self.spec.run.duration]
        return {self.mishaps_at(time): time for time in (0.5 * (a + b) for a, b in pairwise(stops))}

    def _active(self, time: float) -> list[Mishap]:
        return [m for m in self.mishaps.values() if m.at <= time and (m.ends is None or time < m.ends)]

    def _heat_matrix(self, nodes: int) -> sp.csc_array:
        """Share of each source's watts that each node takes, shape (nodes, sources): parts, sources, fans, pumps."""
        columns: list[tuple[Ints, Floats]] = [(self._names[f"part.{name}"], np.ones(1)) for name in self.spec.part]
        columns += [(taking, share) for taking, share, _ in self._heats.values()]
        columns += [(np.array([node]), np.ones(1)) for node in self._fan_air.values()]
        columns += [(np.array([node]), np.ones(1)) for node, _ in self._pumps.values()]
        sizes = [taking.size for taking, _ in columns]
        taking = np.concatenate([np.zeros(0, dtype=np.int64), *(taking for taking, _ in columns)])
        share = np.concatenate([np.zeros(0), *(share for _, share in columns)])
        return sp.csc_array((share, taking, np.r_[0, np.cumsum(sizes)].astype(np.int64)), shape=(nodes, len(columns)))

    def _watts(self, outside: Outside, controls: Controls) -> Floats:
        speeds, closed = controls.speeds, controls.closed
        moving = []
        for address in self._fan_air:
            fan = self.spec.fan[address.removeprefix("fan.")]
            moving.append(fan.heat * fan.count * fan.in_series * speeds[address] ** 3)
        for address, (_, path) in self._pumps.items():
            # a pump that moves nothing warms the room with its case, not the coolant
            heat = self.spec.pump[address.removeprefix("pump.")].heat if passable(path, closed) else 0.0
            moving.append(heat * speeds[address] ** 3)
        return np.concatenate((outside.watts, moving))

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
            return room if inlet == "room" else float(inlet)
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
            knots = _stops(duty)
            starts = np.arange(0.0, end, duty.repeat) if duty.repeat is not None else (0.0,)
            times.update(float(start) + knot for start in starts for knot in knots)
        return tuple(sorted(time for time in times if 0 < time < end))


def _knots(duty: Duty) -> list[float]:
    return [units.quantity(point.split(",")[0], "time") for point in duty.points or ()]


def _stops(duty: Duty) -> tuple[float, ...]:
    """Times within a cycle at which a step must end; a repeat begins with a jump."""
    return (0.0,) if _is_fine(duty) else (0.0, *_knots(duty))


def stops_in(duty: Duty, end: float) -> float:
    """How many jumps a duty with points has until `end`, about."""
    return len(_stops(duty)) * (end / duty.repeat if duty.repeat is not None else 1.0)


def _is_fine(duty: Duty) -> bool:
    """Whether a duty changes too often to stop at every knot."""
    return duty.shape == "ramp" and len(duty.points or ()) > KINKS_TO_STOP_AT


def longest_step(duty: Duty) -> float:
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


def value_of(duty: Duty, time: float) -> float | str:
    """What a duty gives at a time, just after a jump if there is one: the operating state, or a value in SI or °C."""
    return _states(duty)(time) if duty.of == "state" else _signal(duty, _dimension(duty.of))(time, time)


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

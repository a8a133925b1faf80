"""The present conditions: where fans and pumps settle, what the air and coolant are, for the link laws to read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from thermsim.case.flow import Airway
from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats, Ints
from thermsim.model.fins import Fins
from thermsim.model.hydraulics import NOTCH, Flows, LoopHydraulics
from thermsim.physics.air import AirState, dry_air
from thermsim.physics.coolants import LiquidState
from thermsim.physics.curves import PressureCurve, meeting_flow

MINIMUM_STREAM = 1e-6  # W/K; a stream that stands still stays barely coupled, so that no node floats
STANDARD_TEMPERATURE_DEGC = 20.0
STANDARD_DENSITY = 1.2  # kg/m³, at which fan curves and air resistances are measured


@dataclass(frozen=True)
class AirPoint:
    """An airway's operating point: flow m³/s, fan pressure Pa, capacity rate W/K."""

    flow: float
    pressure: float
    state: AirState

    @property
    def capacity_rate(self) -> float:
        """Flow times density times heat capacity, W/K."""
        return self.flow * self.state.density * self.state.cp


@dataclass(frozen=True)
class LoopPoint:
    """A loop's operating point: flows m³/s by element (`pump` is the total), at the mean coolant temperature."""

    flows: Flows
    temperature_degc: float
    liquid: LiquidState

    def capacity_rate(self, element: str) -> float:
        """Flow through an element times density times heat capacity, W/K."""
        return self.flows[element] * self.liquid.density * self.liquid.cp


@dataclass(frozen=True)
class Controls:
    """What is set from outside or by governors at one instant.

    `speeds` of fans and pumps by address (relative to rated); `blocked`: factor on an airway's resistance;
    `closed`: loop elements that let nothing through.
    """

    speeds: Mapping[str, float]
    blocked: Mapping[str, float] = field(default_factory=dict)
    closed: frozenset[str] = frozenset()


@dataclass
class Conditions:
    """What the link laws see: temperatures of all nodes and places (°C), operating points, room pressure (Pa)."""

    temperature: Floats
    air: dict[str, AirPoint]
    loops: dict[str, LoopPoint]
    pressure: float
    speeds: Mapping[str, float] = field(default_factory=dict)  # of fans and pumps
    used: set[tuple[str, str, str]] = field(default_factory=set)  # place, correlation, regime


class AirPath:
    """An airway's fans against its resistance."""

    def __init__(self, spec: Spec, name: str, way: Airway, pressure: float) -> None:
        self.name = name
        self.way = way
        self.pressure = pressure
        self.fans = []
        for address in way.fans:
            fan = spec.fan[address.removeprefix("fan.")]
            curve = PressureCurve([q for q, _ in fan.curve], [p for _, p in fan.curve])
            self.fans.append((address, curve, fan.count, fan.in_series))
        # a sink that all the air must pass adds its drop; one beside the stream follows the stream's
        self.ducted = [
            Fins.of(sink, way)
            for sink in spec.sink.values()
            if sink.airway == name and sink.fins and sink.flow_share == 1.0
        ]
        self.openings = sum(0.5 * hole.loss / hole.area**2 for hole in way.opening.values())
        self._flow = lru_cache(maxsize=256)(self._solve)

    def resistance(self, blocked: float) -> float:
        """Coefficient of the square of the flow at standard density, Pa/(m³/s)²."""
        way, openings = self.way, self.openings * STANDARD_DENSITY
        if way.filter:  # it is the filter that clogs
            return way.resistance + way.filter * blocked + openings
        return (way.resistance + openings) * blocked

    def point(self, inlet_degc: float, controls: Controls) -> AirPoint:
        """Flow and fan pressure; both scale with density, so the volume flow does not depend on it."""
        state = dry_air(inlet_degc, self.pressure)
        speeds = [controls.speeds.get(fan[0], 1.0) for fan in self.fans]
        flow, rise = self._at_speeds(speeds, controls.blocked.get(self.name, 1.0))
        return AirPoint(max(flow, self.way.draught), rise * state.density / STANDARD_DENSITY, state)

    def _at_speeds(self, speeds: list[float], blocked: float) -> tuple[float, float]:
        """Flow and pressure. By the affinity laws all fans faster by a factor move as much more air through a
        resistance that goes with the square; fins' drop does not, so there speeds are interpolated between.
        """
        top = max(speeds, default=1.0)
        if top <= 0:
            return 0.0, 0.0
        ratios = tuple(speed / top for speed in speeds)
        if not self.ducted:
            flow, rise = self._flow(ratios, blocked)
            return flow * top, rise * top * top
        notch, share = divmod(top / NOTCH, 1.0)
        (low, below), (high, above) = (
            self._flow(tuple(ratio * step * NOTCH for ratio in ratios), blocked) for step in (notch, notch + 1)
        )
        return low + share * (high - low), below + share * (above - below)

    def _solve(self, speeds: tuple[float, ...], blocked: float) -> tuple[float, float]:
        way = self.way
        if way.flow is not None:  # pinned at rated speed; the affinity law still holds
            slowest = min(speeds, default=1.0)
            return way.flow * slowest, 0.0
        running = [fan for fan, speed in zip(self.fans, speeds, strict=True) if speed > 0]
        if not running:
            return 0.0, 0.0
        coefficient = self.resistance(blocked)
        available = _together(
            [curve.scaled(speed, count, row) for (_, curve, count, row), speed in zip(self.fans, speeds, strict=True)]
        )
        guess = max(curve.flow[-1] * count for _, curve, count, _ in running)
        standard = dry_air(STANDARD_TEMPERATURE_DEGC)

        def system(flow: float) -> float:
            return coefficient * flow * flow + sum(fins.drop(flow, standard) for fins in self.ducted)

        flow = meeting_flow(available, system, guess * max(speeds))
        return flow, system(flow)


def _together(curves: list[Callable[[float], float]]) -> Callable[[float], float]:
    """Fans one behind another add their pressures."""
    return lambda flow: sum(curve(flow) for curve in curves)


class Operating:
    """Finds every airway's and loop's operating point for given temperatures and controls."""

    def __init__(
        self, spec: Spec, pressure: float, feeds: Mapping[str, int], coolant_nodes: Mapping[str, Ints]
    ) -> None:
        self.pressure = pressure
        self.air = {name: AirPath(spec, name, way, pressure) for name, way in spec.airway.items()}
        self.loops = {name: LoopHydraulics(spec, loop) for name, loop in spec.loop.items()}
        self.pumps = {name: loop.pump for name, loop in spec.loop.items()}
        self.feeds = feeds
        self.coolant_nodes = coolant_nodes

    def conditions(self, temperature: Floats, controls: Controls) -> Conditions:
        """Operating points at the temperatures (°C) of all nodes and places, shape (nodes + places,)."""
        inlets = [float(temperature[self.feeds[name]]) for name in self.air]
        means = [float(temperature[self.coolant_nodes[name]].mean()) for name in self.loops]
        air, loops = self.points(inlets, means, controls)
        return Conditions(temperature, air, loops, self.pressure, controls.speeds)

    def points(
        self, inlets: Iterable[float], means: Iterable[float], controls: Controls
    ) -> tuple[dict[str, AirPoint], dict[str, LoopPoint]]:
        """Operating points from each airway's inlet and each loop's mean coolant temperature, °C, in their order."""
        air = {name: path.point(at, controls) for (name, path), at in zip(self.air.items(), inlets, strict=True)}
        loops = {}
        for (name, hydraulics), mean in zip(self.loops.items(), means, strict=True):
            speed = controls.speeds.get(self.pumps[name], 1.0)
            flows = hydraulics.flows(mean, speed, controls.closed)
            loops[name] = LoopPoint(flows, mean, hydraulics.liquid(mean))
        return air, loops

"""What the model says where a channel of a log was read: temperatures, flows, speeds, watts, noise over time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.bench.spots import spot_of
from thermsim.case.case import Case
from thermsim.case.channels import split_channel
from thermsim.model.arrays import Floats
from thermsim.model.build import build
from thermsim.model.operating import Conditions
from thermsim.model.program import Inputs
from thermsim.model.system import Model
from thermsim.solve.dynamics import Watch
from thermsim.solve.engine import Course, Start, course, spare_factor
from thermsim.solve.governors import speeds_of
from thermsim.solve.noise import noise_known, noise_levels
from thermsim.solve.reduced.grow import Reduced
from thermsim.solve.steady import SteadySolver
from thermsim.solve.tr_bdf2 import State
from thermsim.store.result import Result

Rule = Callable[["Instant"], float]


@dataclass(frozen=True)
class Instant:
    """One instant of a history besides its temperatures: time (s), what comes from outside, operating points."""

    time: float
    segment: float  # a time between the same two jumps of the inputs
    inputs: Inputs
    now: Conditions


def readings_of(
    case: Case, history: Result | Course | Reduced, channels: Iterable[str], times: Floats
) -> dict[str, Floats]:
    """The model's value of each channel at times (s since switch-on, rising, shape (n,)): SI, °C, speeds over rated.

    Channels the model has nothing for (volts, events, a plate that is not there) are left out; so are those a stored
    `Result` holds no curve of. NaN outside the history. `supply.watts` is all heat that is put in: parts, sources, and
    what is stated as `heat` of fans and pumps; `noise` is that of fans and pumps with the room's floor.
    """
    times = np.asarray(times, dtype=float)
    if isinstance(history, Result):
        from thermsim.bench.stored_readings import stored_readings

        return stored_readings(case, history, channels, times)
    return _stepped_readings(history, list(channels), times)


def modelled(case: Case, channels: Iterable[str], times: Floats) -> dict[str, Floats]:
    """The same of a case that is run for it, nothing stored. Raises `SolveFailed`, `NoPath`."""
    model = build(case)
    solver = SteadySolver(model)
    steady = solver.solve(0.5 * min((*model.program.breaks, case.spec.run.duration)))
    return readings_of(case, course(Start(model, [steady], spare_factor(solver))), channels, times)


def told_channels(model: Model, channels: Iterable[str]) -> list[str]:
    """Those of some channels that a model has a value for."""
    return [channel for channel in channels if spot_of(model, channel) or rule_of(model, channel)]


def _stepped_readings(history: Course | Reduced, channels: Sequence[str], times: Floats) -> dict[str, Floats]:
    dynamics = history.history.dynamics
    model = dynamics.model
    spots = {channel: spot for channel in channels if (spot := spot_of(model, channel)) is not None}
    rules = {channel: rule for channel in channels if (rule := rule_of(model, channel)) is not None}
    found = {channel: np.full(times.size, np.nan) for channel in channels if channel in spots or channel in rules}
    nodes = [node for spot in spots.values() for node in spot.nodes]
    reader = dynamics.readings([Watch(np.array([node])) for node in nodes])
    done = int(np.searchsorted(times, 0.0))
    for step in history.steps:
        passed = int(np.searchsorted(times, step.last.time, side="right"))
        if passed == done:
            continue
        span, at = slice(done, passed), times[done:passed]
        ends = [_instant(history, state, 0.5 * (step.first.time + step.last.time)) for state in (step.first, step.last)]
        share = (at - step.first.time) / (step.last.time - step.first.time)
        table = reader.of(step, at) if nodes else np.zeros((at.size, 0))
        column = 0
        for channel, spot in spots.items():
            columns = table[:, column : column + len(spot.nodes)]
            column += len(spot.nodes)
            found[channel][span] = columns @ spot.shares(ends[1].now)
        for channel, rule in rules.items():
            first, last = (rule(end) for end in ends)
            found[channel][span] = first + share * (last - first)
        done = passed
    return found


def _instant(history: Course | Reduced, state: State, segment: float) -> Instant:
    dynamics, laws = history.history.dynamics, history.history.laws
    inputs = dynamics.model.program.at(state.time, speeds_of(laws, list(state.governors)), segment)
    return Instant(state.time, segment, inputs, dynamics.conditions(state.x, inputs))


def rule_of(model: Model, channel: str) -> Rule | None:
    """How a channel that is no temperature of a node follows from an instant; None where the model has none."""
    spec, program = model.case.spec, model.program
    kind, name, quantity = split_channel(channel)
    if channel == "room":
        return lambda at: program.room_degc(at.time, at.segment)
    if channel == "humidity":
        humidity = spec.room.humidity
        return None if humidity is None else lambda at: humidity
    if channel == "supply.watts":
        return lambda at: float(at.inputs.supplied)
    if channel in ("noise", "noise.background"):
        return _noise(model, channel)
    if (kind, quantity) == ("part", "watts") and name in spec.part:
        return lambda at: program.part_watts(name, at.time, at.segment)
    if kind == "airway" and name in spec.airway:
        return _of_airway(model, name, quantity)
    if kind == "loop" and name in spec.loop:
        return _of_loop(model, name, quantity)
    if channel in program.devices:
        return lambda at: at.inputs.controls.speeds[channel]
    return None


def _noise(model: Model, channel: str) -> Rule | None:
    spec = model.case.spec
    floor = spec.room.noise_floor
    if channel == "noise.background":
        return None if floor is None else lambda at: floor
    heard = floor is not None or any(one.heard for one in (*spec.fan.values(), *spec.pump.values()))
    known = heard and noise_known(model)  # a meter never reads the nothing that silence without a floor would be
    return (lambda at: noise_levels(model, at.inputs.controls.speeds)[1]) if known else None


def _of_airway(model: Model, name: str, quantity: str) -> Rule | None:
    if quantity == "flow":
        return lambda at: at.now.air[name].flow
    place = model.operating.feeds[name] - model.node_count
    return (lambda at: float(at.inputs.places[place])) if quantity == "inlet" and place >= 0 else None


def _of_loop(model: Model, name: str, quantity: str) -> Rule | None:
    if quantity == "flow":
        return lambda at: at.now.loops[name].flows["pump"]
    if quantity != "pressure":
        return None
    hydraulics = model.operating.loops[name]

    def pressure(at: Instant) -> float:
        point = at.now.loops[name]
        return hydraulics.drop(hydraulics.series, point.flows["pump"], point.liquid, at.inputs.controls.closed)

    return pressure

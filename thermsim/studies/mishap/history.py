"""What a box does from the instant a mishap strikes: followed from where it had settled, and where it comes to rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import build, rebuild
from thermsim.model.operating import Conditions
from thermsim.model.system import Model
from thermsim.solve.dynamics import Watch
from thermsim.solve.engine import Start, course, spare_factor
from thermsim.solve.factor import NoPath
from thermsim.solve.record import Curve, watched_nodes
from thermsim.solve.steady import Steady, SteadySolver
from thermsim.studies.settled import Settled

SAMPLES_A_STEP = 8
STANDS = 0.1  # of its flow before: a stream with less is told as standing still


@dataclass(frozen=True)
class Reading:
    """Something a thermometer could read over time: its kind, its name, °C at each time, shape (n,).

    `stands`: it is in a stream that has come to a stand, or nearly, so that what it reads depends on where it sits.
    """

    kind: str  # part, probe, plate, block, coolant or air
    name: str
    stands: bool
    values: Floats


@dataclass(frozen=True)
class History:
    """Times since the mishap (s, shape (n,)), readings, and where it leads; `end` is None if to no steady state."""

    model: Model
    times: Floats
    readings: tuple[Reading, ...]
    end: Steady | None
    engine: str

    def part(self, name: str) -> Floats:
        """A part's temperature, °C."""
        return next(reading.values for reading in self.readings if (reading.kind, reading.name) == ("part", name))

    def end_degc(self, part: str) -> float | None:
        """Where a part comes to rest, °C."""
        return None if self.end is None else float(self.end.temperature[self.model.numbers(f"part.{part}")[0]])

    def crossing(self, values: Floats, level: float) -> float | None:
        """When values first pass a level, s, linear between samples; None if never."""
        over = values > level
        if not over.any():
            return None
        k = int(np.argmax(over))
        if k == 0:
            return 0.0
        share = (level - values[k - 1]) / (values[k] - values[k - 1])
        return float(self.times[k - 1] + share * (self.times[k] - self.times[k - 1]))


def history_of(calm: Settled, struck: Case) -> History:
    """The history of a struck case from the settled state of the calm one. Raises `SolveFailed`."""
    model = rebuild(calm.model, struck) or build(struck)
    model.initial = calm.steady.temperature
    horizon = struck.spec.run.duration
    solver, end = None, None
    try:
        solver = SteadySolver(model, calm.steady.temperature)
        end = solver.solve(horizon)
    except NoPath:
        pass
    steadies = [end] if end else []
    taken = course(Start(model, steadies, spare_factor(solver) if solver and end else None))
    watched, standing = readable(model), standing_streams(calm, model)
    reader = taken.history.dynamics.readings([watch for _, watch in watched])
    times, rows = [np.zeros(1)], list[Floats]()
    for step in taken.steps:
        inner = np.linspace(step.first.time, step.last.time, SAMPLES_A_STEP + 1)
        if not rows:
            rows.append(reader.of(step, inner[:1]))
        times.append(inner[1:])
        rows.append(reader.of(step, inner[1:]))
    table = np.concatenate(rows)
    readings = tuple(
        Reading(kind, name, stream in standing, table[:, k]) for k, ((kind, name, stream), _) in enumerate(watched)
    )
    return History(model, np.concatenate(times), readings, end, taken.engine)


def standing_streams(calm: Settled, struck: Model) -> set[str]:
    """Streams of air and coolant by address that a mishap brings to a stand, or nearly."""
    inputs = struck.program.at(0.0, calm.steady.speeds)
    before, after = (_flows(now) for now in (calm.steady.conditions, struck.conditions(struck.start(), inputs)))
    return {name for name, flow in after.items() if flow < STANDS * before[name]}


def _flows(now: Conditions) -> dict[str, float]:
    """Flow of every stream by address, m³/s."""
    flows = {f"airway.{name}": point.flow for name, point in now.air.items()}
    for name, point in now.loops.items():
        flows |= {f"loop.{name}" if element == "pump" else element: flow for element, flow in point.flows.items()}
    return flows


Named = tuple[str, str, str | None]  # kind, name, and the address of the stream it is in


def readable(model: Model) -> list[tuple[Named, Watch]]:
    """What a controller could have a thermometer on, and where each is read."""
    found = []
    for curve, watch in watched_nodes(model).items():
        named = _reading_of(model, curve)
        if named is not None:
            found.append((named, watch))
    return found


def _reading_of(model: Model, curve: Curve) -> Named | None:
    if curve.group in ("parts", "probes"):
        return curve.group.removesuffix("s"), curve.name, None
    if curve.group == "coolant":
        at_pump = curve.name.endswith(" pump inlet")
        stream = f"loop.{curve.name.removesuffix(' pump inlet')}" if at_pump else curve.name.removesuffix(" outlet")
        return "coolant", curve.label.removeprefix("coolant "), stream
    if curve.group == "air":
        airway = curve.name.removesuffix(" outlet")
        named = "air", curve.label.removeprefix("air "), f"airway.{airway}"
        return None if model.case.spec.airway[airway].returns else named
    kind, _, name = curve.name.partition(".")
    if kind == "block":
        return "block", name, None
    return ("plate", name.removesuffix(" mean"), None) if kind == "plate" and name.endswith(" mean") else None

"""What a box does from the instant a mishap strikes it: followed from where it had settled, and where it comes to rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import build, rebuild
from thermsim.model.system import Model
from thermsim.solve.dynamics import Watch
from thermsim.solve.engine import Start, course, spare_factor
from thermsim.solve.factor import NoPath
from thermsim.solve.record import Curve, watched_nodes
from thermsim.solve.steady import Steady, SteadySolver
from thermsim.studies.settled import Settled

SAMPLES_A_STEP = 8


@dataclass(frozen=True)
class Reading:
    """Something a thermometer could read over time: its kind, its name, °C at each time, shape (n,)."""

    kind: str  # part, probe, plate, block, coolant or air
    name: str
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
    watched = readable(model)
    reader = taken.history.dynamics.readings([watch for _, watch in watched])
    times, rows = [np.zeros(1)], []
    for step in taken.steps:
        inner = np.linspace(step.first.time, step.last.time, SAMPLES_A_STEP + 1)
        if not rows:
            rows.append(reader.of(step, inner[:1]))
        times.append(inner[1:])
        rows.append(reader.of(step, inner[1:]))
    table = np.concatenate(rows)
    readings = tuple(Reading(*named, table[:, k]) for k, (named, _) in enumerate(watched))
    return History(model, np.concatenate(times), readings, end, taken.engine)


def readable(model: Model) -> list[tuple[tuple[str, str], Watch]]:
    """Kind and name of all that a controller could have a thermometer on, and where each is read."""
    found = []
    for curve, watch in watched_nodes(model).items():
        named = _reading_of(model, curve)
        if named is not None:
            found.append((named, watch))
    return found


def _reading_of(model: Model, curve: Curve) -> tuple[str, str] | None:
    if curve.group in ("parts", "probes"):
        return curve.group.removesuffix("s"), curve.name
    if curve.group == "coolant":
        return "coolant", curve.label.removeprefix("coolant ")
    if curve.group == "air":
        stirs = model.case.spec.airway[curve.name.removesuffix(" outlet")].returns
        return None if stirs else ("air", curve.label.removeprefix("air "))
    kind, _, name = curve.name.partition(".")
    if kind == "block":
        return "block", name
    return ("plate", name.removesuffix(" mean")) if kind == "plate" and name.endswith(" mean") else None

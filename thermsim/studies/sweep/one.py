"""One input against everything that settles: temperatures, margins, speeds, noise, and where a limit is crossed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from thermsim import units
from thermsim.case.case import Case
from thermsim.case.errors import CaseError, Problem
from thermsim.case.targets import Target, targets
from thermsim.studies.decide.states import verdicts
from thermsim.studies.held import held
from thermsim.studies.kept import Kept
from thermsim.studies.musts import Verdict
from thermsim.studies.sweep.sampled import sample_facts
from thermsim.studies.sweep.sampling import Draw
from thermsim.studies.turns import states_of, turns
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import START_S, Progress, work

Facts = dict[str, Any]


@dataclass(frozen=True)
class Line:
    """An input followed from one value to another: what it moves, and its value (SI, or a factor) at each step."""

    address: str
    targets: tuple[Target, ...]
    is_factor: bool
    values: list[float]

    def changes(self, value: float) -> Draw:
        """The changes of the case that set the input to a value."""
        if self.is_factor:
            return {target.address: target.scaled(value) for target in self.targets}
        return {target.address: target.written(value) for target in self.targets}

    @property
    def unit(self) -> str:
        """Of the values."""
        dimension = self.targets[0].dimension
        return "times the case's value" if self.is_factor else "" if dimension is None else units.base_unit(dimension)

    @property
    def nominal(self) -> float | None:
        """The case's own value; none where the targets differ."""
        if self.is_factor:
            return 1.0
        own = {target.nominal for target in self.targets}
        return own.pop() if len(own) == 1 else None


def read_line(case: Case, address: str, start: str, stop: str, steps: int) -> Line:
    """The line that the flags ask for. Raises `CaseError` with the flag to blame."""
    case = held(case)
    try:
        found = targets(case.spec, address)
        if not found:
            raise ValueError(f'"{address}" is not there in this option')
        if not start.strip().endswith("%"):  # watts by state: those of the run's own
            state = case.spec.run.state
            found = [
                Target((*one.path, state), one.value[state], "power") if isinstance(one.value, dict) else one
                for one in found
            ]
    except ValueError as error:
        raise _wrong("--of", str(error)) from None
    if steps < 2:
        raise _wrong("--steps", f"must be at least 2; got {steps}")
    is_factor = found[0].nominal is None or (start.strip().endswith("%") and found[0].dimension != "fraction")
    if is_factor and found[0].dimension == "temperature":
        raise _wrong("--from", f'a temperature has no per cent of its own; say such as "20 degC", not "{start}"')
    if is_factor and all(target.nominal == 0 for target in found):
        raise _wrong("--from", f"{address} is zero, and so is {start} of it; say a value with its unit")
    ends = [_read(flag, text, found[0], is_factor) for flag, text in (("--from", start), ("--to", stop))]
    if ends[0] == ends[1]:
        raise _wrong("--to", f"is the same as --from, {start}")
    line = Line(address, tuple(found), is_factor, np.linspace(ends[0], ends[1], steps).tolist())
    for flag, end in zip(("--from", "--to"), ends, strict=True):
        try:
            case.with_changes(line.changes(end))
        except CaseError as error:
            raise _wrong(flag, "; ".join(problem.message for problem in error.problems)) from None
    return line


def _read(flag: str, text: str, target: Target, is_factor: bool) -> float:
    try:
        if is_factor:
            return units.quantity(text, "fraction")
        if target.dimension is None:
            return float(text)
        return units.quantity(text, target.dimension)
    except ValueError as error:
        hint = '; a curve or several numbers are swept by a factor, such as "80 %"' if is_factor else ""
        raise _wrong(flag, f"{error}{hint}") from None


def _wrong(flag: str, message: str) -> CaseError:
    return CaseError([Problem(flag, None, "", message)])


def sweep_one(
    case: Case, line: Line, kept: Kept, where: Where = IN_THIS_PROCESS, progress: Progress | None = None
) -> Facts:
    """Steady states along a line, a few kept together, and where each limit and must-have is crossed.

    `progress`: pieces of work done, and all. Raises `ShareDone` where it is for one of several shards.
    """
    cases = [case.with_changes(line.changes(value)) for value in line.values]
    states = states_of(work(turns(cases, sample_facts, may_fail=True), kept, where, progress, START_S))
    where.end_of_share()
    found = crossings(cases, line.values, states)
    return {
        "of": line.address,
        "moves": [target.address for target in line.targets],
        "unit": line.unit,
        "dimension": "factor" if line.is_factor else line.targets[0].dimension,
        "nominal": line.nominal,
        "values": line.values,
        "states": states,
        "limits": _limits(case, states),
        "crossings": found,
        "first": found[0] if found else None,
    }


def crossings(cases: Sequence[Case], values: Sequence[float], states: Sequence[Facts]) -> list[Facts]:
    """Where each limit and must-have is crossed, by straight lines between steps; in the order of the sweep."""
    told = [
        None if "failed" in state else {one["name"]: one for one in verdicts(case, state)}
        for case, state in zip(cases, states, strict=True)
    ]
    found = []
    for (low, before), (high, after) in pairwise(zip(values, told, strict=True)):
        if before is None or after is None:
            continue
        for name, verdict in before.items():
            a, b = room_left(verdict), room_left(after[name])
            if a is not None and b is not None and (a < 0) != (b < 0):
                at = low + (high - low) * a / (a - b)
                found.append({"name": name, "at": at, "is_broken_beyond": b < 0, "of": verdict["of"]})
    sign = 1 if values[-1] > values[0] else -1
    return sorted(found, key=lambda crossing: sign * crossing["at"])


def room_left(verdict: Verdict) -> float | None:
    """How far a value is from the nearer bound of what it must keep to, negative beyond it; in the verdict's unit."""
    value, at_most, at_least = verdict["value"], verdict["at_most"], verdict["at_least"]
    if value is None:
        return None
    room = [*([at_most - value] if at_most is not None else []), *([value - at_least] if at_least is not None else [])]
    return float(min(room))


def _limits(case: Case, states: Sequence[Facts]) -> list[Facts]:
    """What must be kept to, with the bounds."""
    told = next((state for state in states if "failed" not in state), None)
    keys = ("name", "of", "unit", "at_most", "at_least")
    return [] if told is None else [{key: verdict[key] for key in keys} for verdict in verdicts(case, told)]

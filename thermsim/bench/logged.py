"""A case driven by what was logged: the room as it drifted, inlets, watts and states as they were, from one start."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.case.case import Case
from thermsim.case.channels import split_channel
from thermsim.case.errors import CaseError, Problem, nearest
from thermsim.case.lines import dotted
from thermsim.model.arrays import Floats
from thermsim.model.program import KINKS_TO_STOP_AT

if TYPE_CHECKING:
    from thermsim.bench.logs.log import Log

SPACING = 60.0  # s between points of what was logged, so that noise averages out
PASSES = 2  # of (1, 2, 1) / 4 over those points: a spread of one spacing, and what noise is left makes no kinks
FEWEST, MOST = KINKS_TO_STOP_AT + 10, 240  # points; with fewer, a run would stop at each
NAME = "logged "
AT_ONCE = 5.0  # s after switch-on within which a first reading still tells what the box started from
STARTS = ("part", "probe", "plate", "block", "radiator", "hose", "reservoir")  # kinds of channel that tell it


def as_logged(case: Case, log: Log) -> Case:
    """The case over a log's length, driven by its room, inlets, states and watts, from its first temperatures.

    `inputs_of` names the channels it is driven by: what the model says there is no prediction. Inputs are smoothed
    over a minute or more, so that noise of the probes drives nothing. Raises `CaseError` for a state that parts have no
    watts for.
    """
    changes: dict[str, Any] = {"run.duration": f"{float(log.time[-1]):.10g} s", "run.until": "time"}
    start = start_degc(log)
    if start is not None:
        changes["run.start"] = _written(start, "degC")
    for channel in inputs_of(case, log.readings):
        kind, name, _ = split_channel(channel)
        values = log.readings[channel]
        if channel == "room":
            changes["room.temperature"] = _written(float(np.nanmean(values)), "degC")
            changes |= _driven(case, "room.temperature", log.time, values, "degC")
        elif kind == "airway":
            changes[dotted((kind, name, "inlet"))] = _written(float(np.nanmean(values)), "degC")
            changes |= _driven(case, channel, log.time, values, "degC")
        elif kind == "part":
            changes |= _driven(case, channel, log.time, np.maximum(values, 0.0), "W")
    changes |= _states(case, log)
    return case.with_changes(changes)


def inputs_of(case: Case, readings: Mapping[str, Floats]) -> list[str]:
    """Those logged channels that drive a case, or are stated by it, so that no prediction stands against them."""
    found = []
    for channel, values in readings.items():
        kind, name, quantity = split_channel(channel)
        inlet = (kind, quantity) == ("airway", "inlet") and name in case.spec.airway
        from_outside = inlet and not str(case.spec.airway[name].inlet).startswith("airway.")
        watts = (kind, quantity) == ("part", "watts") and name in case.spec.part
        given = channel in ("room", "humidity", "noise.background")
        if (given or from_outside or watts) and np.isfinite(values).any():
            found.append(channel)
    return found


def start_degc(log: Log) -> float | None:
    """What a box stood at when it was switched on, °C: the middle of its first temperatures, or else the room's first.

    Later than a few seconds after switch-on small parts have warmed, so that only the room tells.
    """
    first = int(np.searchsorted(log.time, AT_ONCE, side="right"))
    names = [name for name in log.readings if name.split(".")[0] in STARTS and not name.endswith(".watts")]
    values = [value for name in names if (value := _first(log.readings[name][:first])) is not None]
    if values:
        return float(np.median(values))
    return _first(log.readings["room"]) if "room" in log.readings else None


def _first(values: Floats) -> float | None:
    known = values[np.isfinite(values)]
    return float(known[0]) if known.size else None


def thinned(time: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Evenly spaced times over a log's length and the smoothed means of the readings about each, straight over gaps.

    Shapes (points,); `values` may hold NaN, but not everywhere. Ends and slopes stay as they are.
    """
    end = float(time[-1])
    count = min(max(ceil(end / SPACING), FEWEST), MOST)
    at = np.linspace(0.0, end, count + 1)
    known = np.isfinite(values) & (time >= 0)
    owner = np.rint(time[known] / end * count).astype(int)
    sums, counts = (np.bincount(owner, weights, count + 1) for weights in (values[known], None))
    seen = counts > 0
    means: Floats = np.interp(at, at[seen], sums[seen] / counts[seen])
    for _ in range(PASSES):
        around = np.pad(means, 1, mode="reflect", reflect_type="odd")
        means = 0.25 * around[:-2] + 0.5 * means + 0.25 * around[2:]
    return at, means


def _driven(case: Case, of: str, time: Floats, values: Floats, unit: str) -> dict[str, Any]:
    """Changes that let a duty move something as it was logged, in place of one that moved it before."""
    points = [f"{t:.10g} s, {_written(v, unit)}" for t, v in zip(*thinned(time, values), strict=True)]
    return _without(case, of) | {_duty(NAME + of): {"of": of, "points": points, "shape": "ramp"}}


def _states(case: Case, log: Log) -> dict[str, Any]:
    """The states as they were, where any part has watts by state."""
    by_state = {name: part.watts for name, part in case.spec.part.items() if isinstance(part.watts, dict)}
    told = log.texts.get("state", ())
    if not by_state or not told:
        return {}
    for state in dict.fromkeys(text for _, text in told):
        for name, watts in by_state.items():
            if state not in watts:
                message = f'part.{name} has no watts for the logged state "{state}"{nearest(state, watts)}'
                raise CaseError([Problem(str(log.path), None, "state", message)])
    before = [text for time, text in told if time <= 0]
    first, later = (before or [told[0][1]])[-1], [(time, text) for time, text in told if time > 0]
    changes = {"run.state": first} | _without(case, "state")
    if any(text != first for _, text in later):
        points = ["0 s, " + first, *(f"{time:.10g} s, {text}" for time, text in later)]
        changes[_duty(NAME + "state")] = {"of": "state", "points": points}
    return changes


def _without(case: Case, of: str) -> dict[str, Any]:
    return {_duty(name): None for name, duty in case.spec.duty.items() if duty.of == of}


def _duty(name: str) -> str:
    return f'duty."{name}"'


def _written(value: float, unit: str) -> str:
    return f"{value:.8g} {unit}"

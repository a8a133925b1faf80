"""Did the model tell the truth: run as logged, its readings beside the measured ones; its change beside theirs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt
from typing import Any

import numpy as np

from thermsim.bench.logged import as_logged, inputs_of
from thermsim.bench.paired.changes import Change
from thermsim.bench.paired.quantities import quantity_of
from thermsim.bench.paired.record import Record
from thermsim.bench.readings import modelled
from thermsim.bench.spots import spot_of
from thermsim.bench.uncertainty import coverage_factor
from thermsim.case.benching import Bench
from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.solve.factor import SolveFailed
from thermsim.studies.held import held
from thermsim.studies.settled import Settler
from thermsim.studies.sweep.sampling import Input, uncertain_inputs
from thermsim.studies.sweep.sensitivity import Sensitivities

CUT_NORMAL = 2.0  # standard deviations from the middle to an end of a normal or lognormal spread
_LAW = {"uniform": sqrt(3.0), "triangular": sqrt(6.0)}
EXACT = 0.02  # K, to which the model tells a history; a log of its own comes back within that
POINTS = 240  # of a trace that is shown
Facts = dict[str, Any]
Effects = dict[str, dict[str, float]]  # by channel and input: K for one standard uncertainty


@dataclass(frozen=True)
class Stand:
    """What the model says of the runs of one stand. `readings`: by run, as logged, SI or °C."""

    case: Case
    records: tuple[Record, ...]
    readings: tuple[dict[str, Floats], ...]
    effects: Effects


def stand_of(case: Case, records: Sequence[Record], progress: Callable[[], None] | None = None) -> Stand | None:
    """Run the model as each run was logged; None where it gives up or has nothing to say."""
    found, own = [], case.with_option(records[0].option)
    given: list[str] = []
    for record in records:
        driven = as_logged(own, record.log)
        given = inputs_of(driven, record.log.readings)
        channels = [name for name in record.channels if name not in given]
        try:
            found.append(modelled(driven, [*channels, "room"], record.log.time))
        except SolveFailed:
            return None
        if progress:
            progress()
    shared = [name for name in records[0].channels if quantity_of(name).is_rise]
    return Stand(own, tuple(records), tuple(found), effects_of(own, records, shared, given))


def effects_of(case: Case, records: Sequence[Record], channels: Sequence[str], given: Sequence[str]) -> Effects:
    """How far each uncertain input moves the model's steady temperatures, K for one standard uncertainty, linear.

    What was measured (the room, `given` channels) is known: what was unsure of it beforehand does not count.
    """
    rooms = [record.room_degc for record in records if record.room_degc is not None]
    at = {"room.temperature": f"{np.mean(rooms):.6g} degC"} if rooms else {}
    known = {"room.temperature", *given}
    inputs = [one for one in uncertain_inputs(case) if not known.intersection(t.address for t in one.targets)]
    try:
        found = Sensitivities(Settler().settle(held(case).with_changes(at)), inputs)
    except SolveFailed:
        return {}
    model, steady = found.settled.model, found.settled.steady
    spots = {name: spot for name in channels if (spot := spot_of(model, name)) is not None}
    effects: Effects = {name: {} for name in spots}
    for one, field in zip(inputs, found.fields(), strict=True):
        for name, spot in spots.items():
            moved = float(field[list(spot.nodes)] @ spot.shares(steady.conditions))
            effects[name][one.name] = moved * _share(one)
    return effects


def _share(one: Input) -> float:
    """Standard uncertainty of an input as a share of half its spread."""
    return 1.0 / _LAW.get(one.law, CUT_NORMAL)


def told(change: Change, before: Stand, after: Stand, settings: Bench) -> Facts | None:
    """Model beside measured in one channel: how far it is off in each stand, and its change, in the channel's unit.

    Off: model minus measured over the last minutes, both under the logged room. Its own uncertainty is that of the
    case's uncertain inputs; an input that both stands share moves them together. Whether they agree is told of
    temperatures. None where the model says nothing.
    """
    channel, by = change.channel, change.quantity.factor
    off = [_off(stand, channel) for stand in (before, after)]
    if off[0] is None or off[1] is None:
        return None
    effects = [stand.effects.get(channel, {}) for stand in (before, after)]
    names = {*effects[0], *effects[1]}
    u_model = sqrt(sum((effects[1].get(name, 0.0) - effects[0].get(name, 0.0)) ** 2 for name in names))
    u_off = [sqrt(sum(effect**2 for effect in one.values())) for one in effects]
    shift = off[1] - off[0]
    twice = coverage_factor(inf)
    within = sqrt((twice * u_model) ** 2 + change.half_width**2 + EXACT**2)
    measured = (twice * settings.calibration) ** 2 + change.half_width**2 / 2 + EXACT**2
    allowed = [sqrt((twice * u) ** 2 + measured) for u in u_off]
    judged = bool(effects[0] and effects[1])
    return {
        "change": by * (change.measured.value + shift), "change_u": by * u_model, "change_off": by * shift,
        "change_agrees": abs(shift) <= within if judged else None,
        "off_before": by * off[0], "off_after": by * off[1],
        "off_before_u": by * u_off[0], "off_after_u": by * u_off[1],
        "agrees_before": abs(off[0]) <= allowed[0] if judged else None,
        "agrees_after": abs(off[1]) <= allowed[1] if judged else None,
    }  # fmt: skip


def _off(stand: Stand, channel: str) -> float | None:
    """Model minus measured over the last minutes, mean of the runs, SI or K."""
    found = []
    for record, readings in zip(stand.records, stand.readings, strict=True):
        if channel not in readings or record.end(channel) is None:
            continue
        late = record.log.time > record.span - record.window
        apart = (readings[channel] - record.log.readings[channel])[late]
        apart = apart[np.isfinite(apart)]
        if apart.size:
            found.append(float(apart.mean()))
    return float(np.mean(found)) if found else None


def modelled_records(stand: Stand) -> list[Record]:
    """The model's readings as if they had been logged, for its warm-up to be told by the same rules."""
    found = []
    for record, readings in zip(stand.records, stand.readings, strict=True):
        kept = {name: values for name, values in readings.items() if name in record.log.readings}
        found.append(replace(record, log=replace(record.log, readings=kept, room_probes=None), _ends={}))
    return found


def traces(stand: Stand, channels: Sequence[str]) -> Facts:
    """Measured and modelled traces of the stand's first run, °C or SI, thinned for a figure."""
    record, readings = stand.records[0], stand.readings[0]
    every = max(1, -(-record.log.time.size // POINTS))
    return {
        "run": record.name,
        "time_s": record.log.time[::every].round(1).tolist(),
        "channels": {
            name: {"measured": _plain(record.log.readings[name][::every]), "modelled": _plain(readings[name][::every])}
            for name in channels if name in readings and name in record.log.readings
        },
    }  # fmt: skip


def _plain(values: Floats) -> list[float | None]:
    return [round(float(value), 3) if np.isfinite(value) else None for value in values]

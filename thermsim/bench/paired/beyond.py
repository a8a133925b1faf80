"""What no repeat can show of a change, because it stays as it is from run to run: digits, probes, the room, watts."""

from __future__ import annotations

from collections.abc import Sequence
from math import log, sqrt

import numpy as np

from thermsim.bench.paired.quantities import Quantity
from thermsim.bench.paired.record import Record
from thermsim.bench.paired.repeats import Repeats
from thermsim.bench.uncertainty import Component, of_difference
from thermsim.case.benching import Bench
from thermsim.model.arrays import Floats

NO_ROOM = 0.5  # K, half width of what a room does between runs where nobody logged it; common practice, no source
STILL_AIR = 0.2  # rises go with watts to the power of 1 in driven air, of 0.8 in still air (Nu ~ Ra^¼)
BY_ROOM = 0.005  # of a rise by K of room: radiation carries 1 % more by K (4 σ T³), at most half of the heat
Pair = tuple[Sequence[Record], Sequence[Record]]  # before and after


def beyond(
    quantity: Quantity, runs: Pair, ends: tuple[Repeats, Repeats], assumed: float, settings: Bench
) -> list[Component]:
    """Components of a change, SI or K; `assumed`: standard deviation from run to run of single runs."""
    found = [_digits(quantity, stand, repeats, assumed) for stand, repeats in zip(runs, ends, strict=True)]
    if quantity.is_rise:
        rise = ends[0].mean
        found += [*_probes(quantity.channel, runs, settings), _turned(*runs), _late(*ends)]
        found += [_unlike_rooms(runs, rise), _scaled(runs, rise)]
    return [one for one in found if one is not None]


def _digits(quantity: Quantity, records: Sequence[Record], repeats: Repeats, assumed: float) -> Component | None:
    """What the last digit hides, JCGM 100 F.2.2.1, where neither noise nor repeats move a reading by half of one."""
    read = (quantity.channel, "room") if quantity.is_rise else (quantity.channel,)
    step = max(np.hypot.reduce([one.digits.get(channel, 0.0) for channel in read]) for one in records)
    scatter = assumed if repeats.scatter is None else repeats.scatter
    if max(scatter, *(end.tail.scatter for end in repeats.ends)) >= 0.5 * step:
        return None
    return Component(f"last digit of the readings {records[0].stands}", float(step) / sqrt(12.0))


def _probes(channel: str, runs: Pair, settings: Bench) -> list[Component]:
    """A probe that stays in place carries the same error before and after: r = 1, nothing is left."""
    found, u = [], of_difference(settings.calibration, settings.calibration, 0.0)
    if channel in settings.moved:
        found.append(Component("calibration of a probe that was moved", u))
    if any(record.room is None for stand in runs for record in stand):
        return [*found, Component("room not logged", NO_ROOM / sqrt(3.0) * sqrt(2.0))]
    if "room" in settings.moved:
        found.append(Component("calibration of a room probe that was moved", u))
    return found


def _turned(before: Sequence[Record], after: Sequence[Record]) -> Component | None:
    """The room's probes lie otherwise about their mean after than before, more than from run to run."""
    first, second = (_patterns(stand) for stand in (before, after))
    if first is None or second is None or first.shape[1] != second.shape[1]:
        return None
    probes = first.shape[1]
    apart = second.mean(axis=0) - first.mean(axis=0)
    variance = float(apart @ apart) / (probes - 1)
    free = (len(first) + len(second) - 2) * (probes - 1)
    by_chance = 0.0
    if free:  # what the repeats show already
        scatter = sum(float(((stand - stand.mean(axis=0)) ** 2).sum()) for stand in (first, second)) / free
        by_chance = scatter * (1 / len(first) + 1 / len(second))
    left = max(variance - by_chance, 0.0) / probes
    return Component("the room lies otherwise about the box", sqrt(left), probes - 1) if left else None


def _patterns(stand: Sequence[Record]) -> Floats | None:
    """Each room probe's mean over the last minutes, less that of all, by run; shape (runs, probes)."""
    rows = [record.room_probes for record in stand]
    if any(row is None or row.size < 2 for row in rows) or len({row.size for row in rows if row is not None}) > 1:
        return None
    table = np.array(rows)
    found: Floats = table - table.mean(axis=1, keepdims=True)
    return found


def _late(before: Repeats, after: Repeats) -> Component | None:
    """What rises were given for a room that drifts may be off by as much, either way: evenly spread, JCGM 100 4.3.7.

    A box is behind by the same share in all its runs, and mostly before and after too: rooms that went opposite ways
    add up.
    """
    late = [np.array([end.late for end in repeats.ends]) for repeats in (before, after)]
    first, second = (float(some.mean()) for some in late)
    most, free = max((second - first) ** 2, first**2 + second**2), before.count + after.count - 2
    if free:  # what the repeats show already
        squares = sum(float(((some - some.mean()) ** 2).sum()) for some in late)
        most -= squares / free * (1 / before.count + 1 / after.count)
    return Component("room drift that the box follows late", sqrt(most / 3.0)) if most > 0 else None


def _unlike_rooms(runs: Pair, rise: float) -> Component | None:
    """A rise is a little less in a warmer room: by anything from nothing to `BY_ROOM`."""
    rooms = [[record.room_degc for record in stand if record.room_degc is not None] for stand in runs]
    if not all(rooms):
        return None
    u = BY_ROOM / sqrt(3.0) * abs(float(np.mean(rooms[1]) - np.mean(rooms[0])) * rise)
    return Component("rooms of unlike temperature", u) if u else None


def _scaled(runs: Pair, rise: float) -> Component | None:
    """Rises were scaled as watts; how much less they go in still air is anything up to `STILL_AIR` in the exponent."""
    before, after = (np.mean([log(record.watts_ratio) for record in stand]) for stand in runs)
    u = STILL_AIR / sqrt(3.0) * abs(float(after - before) * rise)
    return Component("rises scaled by watts", u) if u else None

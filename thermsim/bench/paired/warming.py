"""How soon each run was warm: entering and staying within a tolerance, and the published criteria, from noisy logs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from thermsim.bench.paired.ends import End
from thermsim.bench.paired.quantities import quantity_of
from thermsim.bench.paired.record import Record
from thermsim.bench.rates import all_met, smooth
from thermsim.bench.uncertainty import coverage_factor
from thermsim.solve.settle import CRITERIA, warm_up

COLD = 1.0  # K over the room, more than which a start is not cold; common practice, no source
Facts = dict[str, Any]


def warmed(record: Record, tolerance: float) -> Facts:
    """Warm-up of every part and probe of a run, its slowest, and when all meet each published criterion.

    Times count from the last change of state. `earliest` and `latest` are the times with the tolerance made wider and
    narrower by how sure the end value is (95 %); None for what the run is too short or too noisy to tell.
    """
    rows = {channel: _warmed(record, channel, end, tolerance) for channel, end in _judged(record).items()}
    late = [channel for channel, row in rows.items() if row["time_s"] is None]
    slowest = late[0] if late else max(rows, key=lambda channel: rows[channel]["time_s"], default=None)
    return {
        "tolerance_k": tolerance, "channels": rows, "slowest": slowest, "not_warm": late,
        "time_s": None if late or slowest is None else rows[slowest]["time_s"],
        "criteria": _criteria(record), "starts_cold": _starts_cold(record), "from_s": record.since,
    }  # fmt: skip


def _judged(record: Record) -> dict[str, End]:
    """Parts and probes whose end is known; whatever is a temperature where there is none."""
    rises = [channel for channel in record.channels if quantity_of(channel).is_rise]
    some = [channel for channel in rises if channel.split(".")[0] in ("part", "probe")] or rises
    return {channel: end for channel in some if (end := record.end(channel)) is not None}


def _warmed(record: Record, channel: str, end: End, tolerance: float) -> Facts:
    time, values = record.known(channel, record.since)
    even = smooth(time, values)
    u = coverage_factor(min(one.freedom for one in end.within)) * end.u
    seen = end.value - end.late
    when = [warm_up(time, even, seen, within) for within in (tolerance + u, tolerance, tolerance - u) if within > 0]
    since = [None if at is None else at - record.since for at in when]
    return {"time_s": since[1], "earliest_s": since[0], "latest_s": since[2] if len(since) == 3 else None}


def _criteria(record: Record) -> dict[str, Facts]:
    """When the last part meets each criterion, and the most that is then still to come to any."""
    found: dict[str, list[Any]] = {name: [] for name in CRITERIA}
    for channel, end in _judged(record).items():
        time, values = record.known(channel, record.since)
        for name, met in all_met(time, values, end.value - end.late).items():
            found[name].append(met)
    told = {}
    for name, mets in found.items():
        met_by_all = bool(mets) and all(met.time is not None for met in mets)
        told[name] = {
            "source": CRITERIA[name].source,
            "time_s": max(met.time for met in mets) - record.since if met_by_all else None,
            "still_to_come_k": max(met.residual for met in mets) if met_by_all else None,
        }
    return told


def _starts_cold(record: Record) -> bool | None:
    """Whether all parts began near the room; None where nothing tells."""
    if record.room is None:
        return None
    first = [float(record.known(channel)[1][0]) for channel in _judged(record)]
    # parts of little heat capacity have warmed before the first averaged reading: the middle one tells
    return abs(float(np.median(first))) <= COLD if first else None


def stand_told(facts: Sequence[Facts]) -> Facts:
    """The warm-up of a stand from those of its runs: mean and range of the slowest, by criterion too."""
    times = [one["time_s"] for one in facts]
    known = [time for time in times if time is not None]
    return {
        "time_s": float(np.mean(known)) if len(known) == len(times) else None,
        "runs_s": times,
        "slowest": facts[0]["slowest"],
        "criteria": {
            name: {
                "time_s": _mean([one["criteria"][name]["time_s"] for one in facts]),
                "still_to_come_k": _most([one["criteria"][name]["still_to_come_k"] for one in facts]),
            }
            for name in CRITERIA
        },
    }


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known and len(known) == len(values) else None


def _most(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return max(known) if known and len(known) == len(values) else None

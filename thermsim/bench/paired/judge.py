"""What the rows add up to: limits, governors that hide a gain, chance among many parts, trust in the model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from thermsim.bench.paired.record import Record
from thermsim.bench.uncertainty import LEVEL
from thermsim.case.case import Case

Facts = dict[str, Any]
SAME_WAY = 0.75  # of the places, that read off to one side: no chance
HELD_WITHIN = 1.0  # K of its set point, where a governor is said to hold its sensor


def nearest_limit(case: Case, records: Sequence[Record]) -> Facts | None:
    """The part nearest to its limit after, as it stood at the end in the room it stood in."""
    found: list[Facts] = []
    for name, part in case.spec.part.items():
        known = [
            (rise, room) for record in records
            if (rise := record.own_rise(f"part.{name}")) is not None and (room := record.room_degc) is not None
        ]  # fmt: skip
        if part.limit is None or not known:
            continue
        room = float(np.mean([r for _, r in known]))
        degc = room + float(np.mean([rise for rise, _ in known]))
        found.append({
            "part": name, "degc": degc, "room_degc": room, "limit_degc": part.limit, "margin_k": part.limit - degc,
        })  # fmt: skip
    return min(found, key=lambda one: one["margin_k"], default=None)


def held_sensors(cases: Mapping[str, Case], records: Mapping[str, Sequence[Record]]) -> list[Facts]:
    """Logged parts and probes that a governor kept at its set point, and in which stands."""
    found: dict[str, list[str]] = {}
    for stands, case in cases.items():
        for governor in case.spec.governor.values():
            if governor.law != "hold" or governor.set_point is None:
                continue
            means = [record.mean_of(governor.sensor) for record in records[stands]]
            if all(mean is not None and abs(mean - governor.set_point) <= HELD_WITHIN for mean in means):
                found.setdefault(governor.sensor, []).append(stands)
    return [{"sensor": sensor, "when": " and ".join(when)} for sensor, when in found.items()]


def by_chance(facts: Facts) -> list[str]:
    """What is significant by itself but not among all that were looked at together."""
    together = [row for row in facts["rows"] if row["chance_together"] is not None]
    weak = [row for row in together if row["chance"] < 1 - LEVEL <= row["chance_together"]]
    if not weak:
        return []
    names = ", ".join(row["channel"] for row in weak)
    return [
        f"of {len(together)} temperatures one in 20 changes so much by chance alone; taken together (Holm) these do "
        f"not stand out: {names}"
    ]


def model_judged(facts: Facts) -> Facts:
    """How many places agree, the worst of those that do not, and whether the model is off to one side."""
    rows = [row for row in facts["rows"] if row["model"] and row["model"]["change_agrees"] is not None]
    off = [
        {"channel": row["channel"], "when": when, "off": row["model"][f"off_{when}"]}
        for row in rows for when in ("before", "after") if not row["model"][f"agrees_{when}"]
    ]  # fmt: skip
    off.sort(key=lambda one: -abs(one["off"]))
    wrong = [row["channel"] for row in rows if not row["model"]["change_agrees"]]
    sizes = [2 * row["model"][f"off_{when}_u"] for row in rows for when in ("before", "after")]
    calibration = facts["settings"]["calibration_k"]
    words = [text for when in ("before", "after") if (text := _side(rows, when, calibration))]
    if off and not words:
        worst = off[0]
        words = [f"{abs(worst['off']):.1f} K {_way(worst['off'])} at {worst['channel']} {worst['when']}"]
    return {
        "why_not": None, "of": len(rows), "off": off, "changes_wrong": wrong,
        "typical_u95_k": float(np.median(sizes)) if sizes else None,
        "bias_k": {when: _bias(rows, when) for when in ("before", "after")},
        "biased": bool(words), "bias_words": " and ".join(words),
    }  # fmt: skip


def _bias(rows: Sequence[Facts], when: str) -> float | None:
    return float(np.mean([row["model"][f"off_{when}"] for row in rows])) if rows else None


def _side(rows: Sequence[Facts], when: str, calibration: float) -> str:
    """Whether most places read off the same way by more than the bench's own interval, and than its probes may (K)."""
    values = [row["model"][f"off_{when}"] for row in rows if abs(row["model"][f"off_{when}"]) > row["half_width"] / 2]
    mean = _bias(rows, when)
    if mean is None or abs(mean) <= calibration or abs(sum(np.sign(values))) < SAME_WAY * len(rows):
        return ""
    return f"{abs(mean):.1f} K {_way(mean)} on average {when}"


def _way(value: float) -> str:
    return "high" if value > 0 else "low"

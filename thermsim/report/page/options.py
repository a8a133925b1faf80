"""The options as the page tells them: the table of the answer, the parts, where the heat goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from thermsim.report.ledger import OTHER, STORED, heat_ways
from thermsim.report.rows import Row
from thermsim.store.result import Result

Facts = dict[str, Any]


def option_lines(rows: Sequence[Row], compare: Facts | None) -> list[Facts]:
    """A line of the answer's table for each option, the best first, mishaps last.

    With a comparison's facts a line has its rank, how often it wins and passes in the samples, and what it fails in
    any state; without them what it fails in its own run.
    """
    lines = [_line(row, compare) for row in rows]
    order = {"design": 0, "conditions": 1, "mishap": 2}
    return sorted(lines, key=lambda line: (order[line["kind"]], line["rank"] or len(rows)))


def _line(row: Row, compare: Facts | None) -> Facts:
    name = row["option"]
    line = row | {"kind": "mishap" if row["mishaps_at_s"] else "design", "rank": None, "passes": None, "wins": None}
    if compare is None:
        return line
    role = compare["roles"].get(name)
    line["kind"] = role if role in ("mishap", "conditions") else "design"
    decision = compare["decision"]
    if decision is None or name not in decision["must_haves"]:
        return line
    musts = decision["must_haves"][name]
    ranked = {one["option"]: one["rank"] for one in decision["ranking"] if one["passes"]}
    return line | {
        "meets_all": musts["passes"],
        "failed": [must["text"] for must in musts["failed"]],
        "cannot_tell": [must["text"] for must in musts["cannot_tell"]],
        "rank": ranked.get(name),
        "passes": decision["pass_probability"].get(name),
        "wins": decision["rank_frequency"].get(name),
    }


def limits_of(rows: Sequence[Row]) -> dict[str, float | None]:
    """Limit of each part, in order; None where it has none, or not the same under all options."""
    limits: dict[str, set[float | None]] = {}
    for row in rows:
        for part, told in row["parts"].items():
            limits.setdefault(part, set()).add(told["limit_degc"])
    return {part: values.pop() if len(values) == 1 else None for part, values in limits.items()}


def heat_table(results: Mapping[str, Result]) -> Facts:
    """Watts by way and option; ways in order of what they carry, the remainder and the stored last."""
    told = {name: heat_ways(result) for name, result in results.items()}
    most: dict[str, float] = {}
    for _, ways in told.values():
        for way, watts in ways.items():
            most[way] = max(most.get(way, 0.0), abs(watts))
    order = sorted(most, key=lambda way: (way == STORED, way == OTHER, -most[way]))
    return {"ways": order, "by_option": told, "most": max(most.values(), default=0.0) or 1.0}


def in_groups(told: Mapping[str, Sequence[Any]]) -> list[tuple[Any, str]]:
    """Each thing once, with the options it concerns ("" for all)."""
    concerned: dict[Any, list[str]] = {}
    for name, things in told.items():
        for thing in things:
            concerned.setdefault(thing, []).append(name)
    return [(thing, "" if len(names) == len(told) else "; ".join(names)) for thing, names in concerned.items()]

"""A bench protocol as a checklist to print: cautions, plan, what to log, steps with boxes, the order of runs."""

from __future__ import annotations

from typing import Any

from thermsim.report.text import columns, opening, paragraphs
from thermsim.studies.words import plain

Facts = dict[str, Any]
BOX = "[ ]"


def protocol_text(facts: Facts, width: int = 110) -> str:
    """The whole checklist; the block for the case file comes last, it is not for paper."""
    title, *answer = opening(facts, width, "bench protocol")
    parts = [
        [title],
        answer,
        ["BEFORE ANYTHING ELSE", *paragraphs(_first(facts), width, f"{BOX} ")],
        ["WHAT TO LOG", *column_lines(facts)],
        *step_lines(facts, width),
        ["ORDER OF THE RUNS", *order_lines(facts)],
        ["FOR THE CASE FILE, so that such logs are read", facts["block"]] if facts["block"] else [],
    ]
    return "\n\n".join("\n".join(lines) for lines in parts if lines)


def _first(facts: Facts) -> list[str]:
    """What can hurt people, then what can hurt the box."""
    return [*facts["cautions"], *(f"{text[0].upper()}{text[1:]}." for text in facts["warnings"])]


def column_lines(facts: Facts) -> list[str]:
    """One line a column: its header, what the model says it will read, its limit, whether a change can be told."""
    names = facts["stands"]
    head = ["", "header in the log", *(f"model, {name}" for name in names), "limit", "change K"]
    rows = [head]
    rooms = [row["header"] for row in facts["columns"] if row["channel"] == "room"]
    for row in facts["columns"]:
        if row["channel"] == "room" and row["header"] != rooms[0]:
            continue
        header = ", ".join(rooms) if row["channel"] == "room" else row["header"]
        values = [_number(row["values"].get(name), row["unit"]) for name in names]
        limit = "" if row["limit_degc"] is None else f"{row['limit_degc']:.0f}"
        rows.append([BOX, header, *values, limit, _change(row, facts["plan"]["resolves_k"])])
    lines = columns(rows, "  " + "r" * (len(names) + 2))
    return [
        *lines,
        "model: where it settles; least margin first; °C unless the header says otherwise; ~ too small to be told",
    ]


def _number(value: float | None, unit: str) -> str:
    digits = {"rpm": 0, "L/min": 2}.get(unit, 1)
    return "" if value is None else f"{value:.{digits}f}"


def _change(row: Facts, resolved: float) -> str:
    if row["change_k"] is None:
        return ""
    return f"{'~' if abs(row['change_k']) < resolved else ''}{row['change_k']:+.1f}".replace("-", "−")


def step_lines(facts: Facts, width: int) -> list[list[str]]:
    """Numbered through all sections."""
    found, number = [], 0
    for section in facts["sections"]:
        lines = [section["title"].upper()]
        for step in section["steps"]:
            number += 1
            lines += paragraphs([step], width, f"{BOX} {number:2d} ")
        found.append(lines)
    return found


def order_lines(facts: Facts) -> list[str]:
    """A line a run, to be filled in by hand."""
    plan = facts["plan"]
    counts = dict.fromkeys(facts["stands"], 0)
    rows = []
    for number, name in enumerate(plan["order"], start=1):
        counts[name] += 1
        rows.append(
            [
                f"{BOX} run {number}",
                f"{plain(name)} {counts[name]}",
                "on at ____:____",
                "room ______ to ______ °C",
                "file ____________",
            ]
        )
    how = f"shuffled with seed {plan['seed']}" if plan["shuffled"] else "not shuffled: going back is a rebuild"
    return [*columns(rows), f"{how}. Rules without a source are common practice. The tool approves nothing."]

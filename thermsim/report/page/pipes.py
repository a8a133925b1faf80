"""Heat pipes on the page: load against capacity in every state, with one lost, and what tilt leaves."""

from __future__ import annotations

from typing import Any

from thermsim.report.page.curves import chart, plain_line
from thermsim.report.pipes_text import in_words, nearest
from thermsim.report.style import ALARM, NOTE
from thermsim.studies.words import plain

Facts = dict[str, Any]


def pipes_content(facts: Facts) -> Facts:
    """The facts with a row for each table of pipes and state."""
    rows = [_row(book, pipe, state) for book in facts["books"] for pipe in book["pipes"] for state in pipe["states"]]
    most = max((max(row["load_w"], row["capacity_w"]) for row in rows), default=0.0) or 1.0
    for row in rows:
        row["load"], row["capacity"] = (100 * row[key] / most for key in ("load_w", "capacity_w"))
    return facts | {"rows": rows}


def _row(book: Facts, pipe: Facts, state: str) -> Facts:
    told: Facts = pipe["states"][state]
    lost = pipe["lost"][state]
    part, margin = nearest(book["limits_degc"], lost["parts_degc"])
    return told | {
        "name": f"{book['option']}: {pipe['count']} × {plain(pipe['name'])}",
        "state": in_words(book, state),
        "wanted": pipe["wanted_margin"],
        "short": told["margin"] is not None and told["margin"] < pipe["wanted_margin"],
        "lost_margin": lost["margin"],
        "lost_part": part,
        "lost_k": margin,
        "lost_settles": lost["parts_degc"] is not None,
    }


def pipes_charts(facts: Facts) -> dict[str, Facts]:
    """Capacity over tilt of every table of pipes with a stated wick, as "pipes_tilt"; nothing without."""
    lines: list[Facts] = []
    loads: list[tuple[float, str]] = []
    for book in facts["books"]:
        for pipe in book["pipes"]:
            tilt, worst = pipe["tilt"], pipe["states"][pipe["worst_state"]]
            if tilt["deg"] is not None:
                name = f"{book['option']}, {pipe['count']} × {plain(pipe['name'])}"
                lines.append(plain_line(name, tilt["deg"], [round(w, 2) for w in tilt["capacity_w"]], len(lines)))
                loads.append((worst["load_w"], pipe["worst_state"]))
    if not lines:
        return {}
    watts, state = max(loads)
    return {
        "pipes_tilt": chart("degrees, hot end up: +", "capacity, W", lines) | {
            "from_zero": True,
            "levels": [{"y": watts, "text": f"load in {state}, {watts:.0f} W", "colour": ALARM}],
            "marks": [{"x": 0.0, "text": "level", "colour": NOTE}],
        },
    }  # fmt: skip

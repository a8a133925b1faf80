"""The loop's book on the page: each element's pressure, coolant and heat; the pump against the loop; what to change."""

from __future__ import annotations

from typing import Any

from thermsim.report.page.curves import chart, plain_line
from thermsim.report.style import NOTE

Facts = dict[str, Any]
KILO = 1e-3
MOST_CHANGES = 5


def loop_content(facts: Facts) -> Facts:
    """The facts, each book with its number, its name, and the most that an element takes of the head."""
    return facts | {"books": [_book(number, book) for number, book in enumerate(facts["books"])]}


def _book(number: int, book: Facts) -> Facts:
    return book | {
        "number": number,
        "name": f"{book['option']}: loop {book['loop']}",
        "most_pa": max((row["drop_pa"] for row in book["elements"]), default=0.0) or 1.0,
        "changes": book["changes"][:MOST_CHANGES],
    }


def loop_charts(facts: Facts) -> dict[str, Facts]:
    """Pump and loop over the flow, by "loop_" and the number of the book."""
    return {f"loop_{number}": _chart(book["pump"]) for number, book in enumerate(facts["books"])}


def _chart(pump: Facts) -> Facts:
    curves = pump["curves"]
    flows = [round(flow, 4) for flow in curves["flow_l_per_min"]]
    top = max(curves["pump_pa"])
    # what the loop would take beyond the pump's reach is of no use here
    system = [round(KILO * one, 3) if one <= 1.1 * top else None for one in curves["loop_pa"]]
    lines = [
        plain_line("pump", flows, [round(KILO * one, 3) for one in curves["pump_pa"]], 0),
        plain_line("loop", flows, system, 1),
    ]
    flow = pump["flow_l_per_min"]
    mark = {"x": flow, "text": f"{flow:.2f} L/min, {KILO * pump['pressure_pa']:.1f} kPa", "colour": NOTE}
    labels = [
        {"text": name, "y": y, "colour": line["colour"]}
        for name, y, line in (("the pump gives", 0.0, lines[0]), ("the loop takes", _last(system), lines[1]))
    ]
    return chart("L/min", "kPa", lines) | {"from_zero": True, "marks": [mark], "labels": labels}


def _last(values: list[float | None]) -> float:
    return [value for value in values if value is not None][-1]

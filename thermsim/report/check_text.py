"""What `check` found, as plain text."""

from __future__ import annotations

from typing import Any

from thermsim.report.text import columns, number

Table = dict[str, Any]


def check_text(facts: Table) -> str:
    """Watts ledger, parts against limits, hand estimates beside the model, what was assumed."""
    invented = " (invented demo data)" if facts["invented"] else ""
    option = f"option {facts['option']}" if facts["option"] else "base case"
    blocks = [
        [f"{facts['title']}{invented}: {option}: nothing wrong in the file"],
        watts_lines(facts),
        part_lines(facts),
        estimate_lines(facts["estimates"]),
        [f"assumed: {text}" for text in facts["assumed"]],
        [f"warning: {text}" for text in [*facts["grid_notes"], *facts["warnings"]]],
        [f"model: {facts['unknowns']} unknowns on a grid of {facts['grid'][0]} by {facts['grid'][1]} cells"],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def watts_lines(facts: Table) -> list[str]:
    """The power ledger, a column for each operating state."""
    states = list(facts["watts"])
    rows = [["watts", *states]]
    rows += [[name, *[number(facts["watts"][s][name]) for s in states]] for name in facts["watts"][states[0]]]
    return [
        *columns(rows, " " + "r" * len(states)),
        "the total must match the supply's measured watts within 5 %",
    ]


def part_lines(facts: Table) -> list[str]:
    """Steady temperatures, smallest margin first."""
    rows = [["part", "steady °C", "limit °C", "margin K", ""]]

    def margin(name: str) -> float:
        limit = facts["limits"][name]
        return limit - facts["parts"][name] if limit is not None else float("inf")

    for name in sorted(facts["parts"], key=margin):
        limit = facts["limits"][name]
        over = "OVER ITS LIMIT" if margin(name) < 0 else ""
        rows.append([
            name, number(facts["parts"][name]), number(limit, 0),
            number(margin(name) if limit is not None else None), over,
        ])  # fmt: skip
    return columns(rows, " rrr")


def estimate_lines(estimates: list[Table]) -> list[str]:
    """By hand beside the model; gaps over 20 % with the number of their usual reason."""
    reasons = list(dict.fromkeys(e["reason"] for e in estimates if e["flagged"]))
    rows = [["estimate", "by hand", "model", "", "gap", "the sum"]]
    for e in estimates:
        gap = f"{100 * e['gap']:+.0f} %" if abs(e["gap"]) < 10 else "large"
        rows.append(
            [
                e["what"],
                f"{e['by_hand']:.2f}",
                f"{e['by_model']:.2f}",
                e["unit"],
                gap + (f" *{1 + reasons.index(e['reason'])}" if e["flagged"] else "   "),
                e["sum"],
            ]
        )
    return [*columns(rows, " rr r"), *[f"*{k}: {reason}" for k, reason in enumerate(reasons, start=1)]]

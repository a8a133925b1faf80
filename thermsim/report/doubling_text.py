"""What doubling told, as plain text."""

from __future__ import annotations

from typing import Any

Table = dict[str, Any]
HEAD = ["part", "cells: peak K", "settled K", "warm-up", "steps: peak K", "warm-up", "order", "left K"]


def doubling_about(told: Table) -> str:
    """What was doubled, and what the columns say."""
    cells, steps = told["unknowns"], told["steps"]
    return (
        f"doubling: how far cells half as large ({cells[0]:,} to {cells[1]:,} unknowns), and steps half as long "
        f"({steps[0]} to {steps[1]}), move it; left: what the settled temperature lacks, at the order seen"
    )


def doubling_rows(told: Table) -> list[list[str]]:
    """Cells of the table of doubling."""
    return [
        [
            name, kelvin(part["cells"]["peak_shift_k"]), kelvin(part["cells"]["steady_shift_k"]),
            _warm(part["cells"]), kelvin(part["steps"]["peak_shift_k"]), _warm(part["steps"]),
            "–" if part["order"] is None else f"{part['order']:.1f}", kelvin(part["left_k"]),
        ]
        for name, part in told["parts"].items()
    ]  # fmt: skip


def kelvin(value: float | None) -> str:
    """A shift with its sign."""
    return "–" if value is None else f"{round(value, 3) + 0.0:+.3f}"


def _warm(shift: Table) -> str:
    if shift["warm_up_shift_s"] is None:
        return "–"
    share, seconds = shift["warm_up_shift_share"], round(shift["warm_up_shift_s"]) + 0.0
    return f"{seconds:+.0f} s" + ("" if share is None else f" ({round(100 * share, 1) + 0.0:+.1f} %)")

"""The measurements as a table, with ratios to thermsim in the same run and notes under it."""

from __future__ import annotations

from typing import Any

HEAD = (
    "unknowns", "by", "set up, s", "warm-up, s", "error, K", "ratio", "at 0.05 K, s", "with", "ratio", "peak MB",
    "notes",
)  # fmt: skip
OURS = ("thermsim reduced", "thermsim full")  # the first there is, is what the others are compared with


def text_table(rows: list[dict[str, Any]], *, markdown: bool = False) -> str:
    """A table of plain columns, or in Markdown."""
    notes: dict[str, int] = {}
    lines = [_cells(row, _base(rows, row["asked"]), notes) for row in rows if _is_run(row)]
    factors = [_factor_line(row) for row in rows if row["peer"] == "one factor"]
    skipped = [f"{row['asked']:,} {row['peer']}: {row['skipped']}" for row in rows if "skipped" in row]
    under = [f"[{number}] {note}" for note, number in notes.items()] + factors + [f"skipped {one}" for one in skipped]
    body = _markdown(lines) if markdown else _plain(lines)
    return "\n".join([*body, "", *([f"- {one}" for one in under] if markdown else under)])


def _is_run(row: dict[str, Any]) -> bool:
    return "answer" in row and row["peer"] != "one factor"


def _base(rows: list[dict[str, Any]], asked: int) -> dict[str, Any]:
    """thermsim's own reading at a size, empty if there is none."""
    runs = {row["peer"]: row["answer"] for row in rows if _is_run(row) and row["asked"] == asked}
    return next((runs[name] for name in OURS if name in runs), {})


def _cells(row: dict[str, Any], base: dict[str, Any], notes: dict[str, int]) -> list[str]:
    found = row["answer"]
    marks = "".join(f"[{notes.setdefault(note, len(notes) + 1)}]" for note in found["said"])
    return [
        f"{found['unknowns']:,}", row["peer"], _number(found["setup"]), _number(found["seconds"]),
        _number(found["error"]), _ratio(found["seconds"], base.get("seconds")), _number(found["equal"]),
        found["at"], _ratio(found["equal"], base.get("equal")), _number(found["peak_mb"], 4), marks,
    ]  # fmt: skip


def _number(value: float | None, digits: int = 3) -> str:
    return "" if value is None else f"{value:.0f}" if abs(value) >= 10**digits else f"{value:.{digits}g}"


def _ratio(value: float | None, base: float | None) -> str:
    return (
        f"{value / base:.2g}"
        if value and base and value / base < 100
        else f"{value / base:.0f}"
        if value and base
        else ""
    )


def _factor_line(row: dict[str, Any]) -> str:
    if "answer" not in row:
        return f"{row['asked']:,} one factor: {row['skipped']}"
    found, more = row["answer"], row["answer"]["more"]
    return (
        f"{found['unknowns']:,} unknowns: one factor {more['factor_s']:.3g} s, {more['factor_mb']:.0f} MB; "
        f"one solve {1e3 * more['solve_s']:.3g} ms; peak {found['peak_mb']:.0f} MB"
    )


def _plain(lines: list[list[str]]) -> list[str]:
    every = [list(HEAD), *lines]
    widths = [max(len(line[k]) for line in every) for k in range(len(HEAD))]
    text_columns = {1, 7, 10}
    return [
        "  ".join(
            cell.ljust(width) if k in text_columns else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in every
    ]


def _markdown(lines: list[list[str]]) -> list[str]:
    rule = ["---"] * len(HEAD)
    return [f"| {' | '.join(line)} |" for line in [list(HEAD), rule, *lines]]

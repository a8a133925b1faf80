"""The page of a verification: one file that holds all it shows, and no script."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import Any

from thermsim.report.page.environment import environment, template_file
from thermsim.report.verify_text import number
from thermsim.verify.answer import used

Facts = dict[str, Any]


def write_verify_page(facts: Facts, folder: str | Path) -> Path:
    """Write `verify.html` of a verification's facts; returns its path."""
    path = Path(folder) / "verify.html"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(verify_page(facts), encoding="utf-8")
    return path


def verify_page(facts: Facts) -> str:
    """The page as text; its policy lets nothing be loaded or run."""
    return (
        environment()
        .get_template("verify.html")
        .render(
            facts,
            sections=_sections(facts["rows"]),
            style=template_file("page.css"),
            passed=all(row["passed"] for row in facts["rows"]),
        )
    )


def _sections(rows: list[Facts]) -> list[Facts]:
    """Sections in order, each with its checks and their figures as they are shown."""
    return [
        {
            "name": name,
            "anchor": name.replace(" ", "-"),
            "checks": [
                {"name": check, "rows": [_shown(row) for row in figures]}
                for check, figures in groupby(its, lambda row: row["check"])
            ],
        }
        for name, its in groupby(rows, lambda row: row["section"])
    ]


def _shown(row: Facts) -> Facts:
    share = used(row)
    several = row["values"] > 1
    return row | {
        "published": f"{row['values']} values" if several else number(row["expected"], row["tolerance"]),
        "allowed": f"{row['tolerance']:.2g}",
        "came": "–" if row["got"] is None else number(row["got"], row["tolerance"], several),
        "used": None if share is None else min(share, 1.0),
        "percent": None if share is None else f"{100 * share:.0f} %",
    }

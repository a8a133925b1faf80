"""The page of a verification: one file that holds all it shows, and no script."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import Any

from thermsim.report.page.environment import environment, template_file
from thermsim.report.verify_text import came, cited, percent, published
from thermsim.store.whole import write_whole
from thermsim.verify.answer import used

Facts = dict[str, Any]


def write_verify_page(facts: Facts, folder: str | Path) -> Path:
    """Write `verify.html` of a verification's facts; returns its path."""
    return write_whole(Path(folder) / "verify.html", verify_page(facts))


def verify_page(facts: Facts) -> str:
    """The page as text; its policy lets nothing be loaded or run."""
    return (
        environment()
        .get_template("verify.html")
        .render(
            facts,
            sections=_sections(facts),
            style=template_file("page.css"),
            passed=all(row["passed"] for row in facts["rows"]),
        )
    )


def _sections(facts: Facts) -> list[Facts]:
    """Sections in order, each with its checks and their figures as they are shown."""
    told = {one["section"]: one | {"share": percent(one["largest_share"])} for one in facts["sections"]}
    return [
        told[name]
        | {
            "anchor": name.replace(" ", "-"),
            "checks": [[_shown(row) for row in rows] for _, rows in groupby(its, lambda row: row["check"])],
        }
        for name, its in groupby(facts["rows"], lambda row: row["section"])
    ]


def _shown(row: Facts) -> Facts:
    share = used(row)
    drawn = None if share is None else min(share, 1.0)
    return row | {
        "source": cited(row),
        "published": published(row),
        "came": came(row),
        "used": drawn,
        "percent": percent(share),
    }

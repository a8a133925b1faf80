"""The answer of a verification in words, and what it does not prove."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

Facts = Mapping[str, Any]
NAMED = 5  # rows not met that the answer names; all are in the table


def answer(facts: Facts) -> list[str]:
    """How many published figures are met, how closely, and which are not."""
    rows = facts["rows"]
    failed = [row for row in rows if not row["passed"]]
    met = len(rows) - len(failed)
    lines = [f"{met} of {len(rows)} published figures met on this machine in {facts['seconds']:.0f} s."]
    asked, there_are = len(facts["checks"]), facts["checks_there_are"]
    part = [f"Only {asked} of the {there_are} checks {'was' if asked == 1 else 'were'} asked."] * (asked < there_are)
    if failed:
        several = len(failed) > 1
        lines.append(f"{len(failed)} {'are' if several else 'is'} NOT met: trust no number of this installation yet.")
        told = list(dict.fromkeys(not_met(row) for row in failed))  # where a case does not run, once
        lines += told[:NAMED]
        if len(told) > NAMED:
            lines.append(f"{len(told) - NAMED} more are in the tables.")
        return lines + part
    tight = max(rows, key=lambda row: used(row) or 0.0)
    lines.append(
        f"The closest to its tolerance is “{tight['quantity']}” of “{tight['title']}”: "
        f"{100 * (used(tight) or 0.0):.0f} % of it is used."
    )
    return lines + part


def by_section(rows: Iterable[Facts]) -> list[dict[str, Any]]:
    """Each section in a line: figures, how many are met, the largest share of a tolerance used and in which check."""
    told = []
    for name, group in groupby(rows, lambda row: row["section"]):
        its = list(group)
        tight = max(its, key=lambda row: used(row) or 0.0)
        told.append(
            {
                "section": name,
                "figures": len(its),
                "met": sum(row["passed"] for row in its),
                "largest_share": used(tight),
                "check": tight["title"],
            }
        )
    return told


def not_met(row: Facts) -> str:
    """One figure that is not met, in a line; the message where its case did not run."""
    if row["got"] is None:
        return f"{row['check']}: {row['error']}"
    unit = row["unit"].replace("degC", "°C")
    what = f"got {row['got']:.6g}, published {row['expected']:.6g} ± {row['tolerance']:.2g} {unit}"
    return f"{row['check']}, {row['quantity']}: {what}"


def used(row: Facts) -> float | None:
    """The deviation as a share of the tolerance; None where nothing came out."""
    if row["got"] is None:
        return None
    return float(abs(row["got"] - row["expected"]) / row["tolerance"])


def limits() -> list[str]:
    """What green rows do not prove."""
    return [
        "Where all figures are met, this installation solves its equations as published, through case file, model, "
        "solver and stored result, on this machine. That does not show that a case of yours is right: its watts, "
        "joints, films and losses are what you stated, and `thermsim fit` is where they meet a measurement.",
        "Films, pressure drops and heat-pipe capacities from correlations are checked against the published form of "
        "the correlation; how far that is from your hardware no computer can tell.",
        "Thin sheets, air as streams, walls of one temperature: what the model leaves out is left out here too. Each "
        "run warns where that matters.",
    ]

"""A verification as plain text: the answer, every figure section by section, what it does not prove."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from thermsim.report.text import columns, paragraphs, unit
from thermsim.verify.answer import used
from thermsim.verify.checkfile import Check

Facts = dict[str, Any]


def verify_text(facts: Facts, width: int = 110) -> str:
    """The whole report."""
    sections = [
        paragraphs(facts["answer"], width, "• "),
        *(section_lines(name, list(rows), width) for name, rows in groupby(facts["rows"], lambda row: row["section"])),
        ["what this does not prove:", *paragraphs(facts["limits"], width, "• ")],
        made_lines(facts["made"], width),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections)


def section_lines(name: str, rows: list[Facts], width: int) -> list[str]:
    """Checks of a section, each with its source and its figures."""
    lines = [name.upper()]
    for (check, title), group in groupby(rows, lambda row: (row["check"], row["title"])):
        told = list(group)
        lines.append(f"{title} [{check}]")
        lines += paragraphs([f"source: {told[0]['source']}{' (from memory)' if told[0]['from_memory'] else ''}"], width)
        table = [["  ", "", "published", "±", "got", "of it", ""]] + [figure_cells(row) for row in told]
        lines += columns(table, "  rrrr")
        lines += paragraphs(dict.fromkeys(row["error"] for row in told if row["error"]), width)
    return lines


def figure_cells(row: Facts) -> list[str]:
    """A figure as cells: verdict, quantity, published, tolerance, got, share of the tolerance used, unit."""
    published = f"{row['values']} values" if row["values"] > 1 else number(row["expected"], row["tolerance"])
    share = used(row)
    return [
        "ok" if row["passed"] else "NOT MET",
        row["quantity"],
        published,
        f"{row['tolerance']:.2g}",
        "–" if row["got"] is None else number(row["got"], row["tolerance"], row["values"] > 1),
        "–" if share is None else f"{100 * share:.0f} %",
        unit(row["unit"]),
    ]


def number(value: float, tolerance: float, signed: bool = False) -> str:
    """A number with as many decimals as its tolerance deserves, one more than that says."""
    decimals = 0
    while decimals < 9 and tolerance * 10**decimals < 10:
        decimals += 1
    large = abs(value) >= 1e6 or decimals >= 7
    if large:
        return f"{value:.5g}"
    return f"{value:+.{decimals}f}" if signed else f"{value:.{decimals}f}"


def made_lines(made: Facts, width: int) -> list[str]:
    """What computed it."""
    libraries = ", ".join(f"{name} {version}" for name, version in made["libraries"].items())
    return paragraphs(
        [f"thermsim {made['thermsim']}, Python {made['python']} on {made['system']}, {made['at']}; {libraries}"], width
    )


def list_text(checks: dict[str, Check]) -> str:
    """The checks there are: name, section, figures, title, source."""
    rows = [["check", "section", "figures", "title; source"]]
    rows += [[name, one.section, str(len(one.row)), f"{one.title}; {one.source}"] for name, one in checks.items()]
    return "\n".join(columns(rows, "  r"))

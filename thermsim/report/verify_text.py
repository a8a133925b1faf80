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
        [*overview_lines(facts["sections"]), "", *paragraphs([READ], width)],
        *(section_lines(name, list(rows), width) for name, rows in groupby(facts["rows"], lambda row: row["section"])),
        ["what this does not prove:", *paragraphs(facts["limits"], width, "• ")],
        made_lines(facts["made"], width),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections)


READ = (
    "Used: the deviation as a share of the tolerance. Of several values in a row, got is the largest difference from "
    "them. In brackets: the check's name and folder."
)


def overview_lines(sections: list[Facts]) -> list[str]:
    """Section by section: how many figures, and the closest to its tolerance."""
    rows = [["", "met", "used at most", "in"]]
    for one in sections:
        met = f"{one['met']} of {one['figures']}"
        rows.append([one["section"], met, percent(one["largest_share"]), one["check"]])
    return columns(rows, " rr")


def section_lines(name: str, rows: list[Facts], width: int) -> list[str]:
    """Checks of a section, each with its source, and its figures in columns that run through the section."""
    head, *table = columns([HEAD, *(figure_cells(row) for row in rows)], "  rrr")
    lines = [name.upper(), head]
    figures = iter(table)
    for title, group in groupby(rows, lambda row: row["title"]):
        told = list(group)
        lines += paragraphs([f"{title} [{told[0]['check']}]: {cited(told[0])}"], width)
        lines += [next(figures) for _ in told]
        lines += paragraphs(dict.fromkeys(row["error"] for row in told if row["error"]), width)
    return lines


def cited(row: Facts) -> str:
    """The source, and where all of it was cited from memory, that it was."""
    whole = row["from_memory"] and "from memory" not in row["source"]
    return f"{row['source']}{' (cited from memory)' if whole else ''}"


HEAD = ["verdict", "figure", "published", "got", "used"]


def figure_cells(row: Facts) -> list[str]:
    """A figure as cells: verdict, quantity, published, got, share of the tolerance used."""
    return ["  met" if row["passed"] else "  NOT MET", row["quantity"], published(row), came(row), percent(used(row))]


def published(row: Facts) -> str:
    """What is printed, with the tolerance and unit; how many values where there are several."""
    value = f"{row['values']} values" if row["values"] > 1 else number(row["expected"], row["tolerance"])
    return f"{value} ± {row['tolerance']:.2g} {unit(row['unit'])}"


def came(row: Facts) -> str:
    """What came out; of several values the largest difference, with its sign."""
    return "–" if row["got"] is None else number(row["got"], row["tolerance"], row["values"] > 1)


def percent(share: float | None) -> str:
    """A share of a tolerance."""
    return "–" if share is None else f"{100 * share:.0f} %" if share < 10 else "> 1000 %"


def number(value: float, tolerance: float, signed: bool = False) -> str:
    """A number with as many decimals as its tolerance deserves, one more than that says."""
    decimals = 0
    while decimals < 9 and tolerance * 10**decimals < 10:
        decimals += 1
    large = abs(value) >= 1e6 or decimals >= 7
    if large:
        return f"{value:.5g}"
    value = round(value, decimals) + 0.0  # no minus before nothing
    return f"{value:+.{decimals}f}" if signed else f"{value:.{decimals}f}"


def made_lines(made: Facts, width: int) -> list[str]:
    """What computed it."""
    libraries = ", ".join(f"{name} {version}" for name, version in made["libraries"].items())
    return paragraphs(
        [
            f"thermsim {made['thermsim']} in {made['folder']} (case files: verify/checks), "
            f"Python {made['python']} on {made['system']}, {made['at']}; {libraries}"
        ],
        width,
    )


def list_text(checks: dict[str, Check]) -> str:
    """The checks there are: name, section, figures, title."""
    rows = [["check", "section", "figures", "what it is"]]
    rows += [[name, one.section, str(len(one.row)), one.title] for name, one in checks.items()]
    return "\n".join(columns(rows, "  r"))

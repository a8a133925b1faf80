"""A leak test as plain text: cautions first, then the answer, the tests, the budget."""

from __future__ import annotations

from typing import Any

from thermsim.report.text import columns, opening, paragraphs
from thermsim.units import SCCM

Facts = dict[str, Any]


def leak_text(facts: Facts, width: int = 110) -> str:
    """The whole report. What can hurt comes before what was asked."""
    title, *answer = opening(facts, width, _about(facts))
    sections = [
        [title],
        paragraphs((f"caution: {text}" for text in facts["cautions"]), width),
        answer,
        test_lines(facts) if facts["tests"] else [],
        budget_lines(facts) if facts["tests"] else [],
        paragraphs((f"warning: {text}" for text in facts["warnings"]), width),
        paragraphs((f"{test['name']}: {text}" for test in facts["tests"] for text in test["mended"]), width),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def _about(facts: Facts) -> str:
    volume, u = 1e6 * facts["volume_m3"], 1e6 * facts["u_volume_m3"]
    return f"leak test, {volume:.4g} ± {u:.2g} mL (standard uncertainty)"


def test_lines(facts: Facts) -> list[str]:
    """One line a test."""
    head = [
        "",
        "readings",
        "held min",
        "first kPa",
        "°C",
        "last kPa",
        "°C",
        "fell Pa",
        "left Pa",
        "sccm",
        "± (2u)",
        "mbar·L/s",
    ]
    rows = [head]
    for test in facts["tests"]:
        first, last = test["first"], test["last"]
        ends = [cell for one in (first, last) for cell in (f"{one['pressure_pa'] / 1e3:.3f}", f"{one['degc']:.2f}")]
        drops = [f"{test['drop_pa']:.0f}", f"{test['corrected_pa']:.0f}"]
        rates = [f"{test['sccm']:.4f}", f"{2 * test['u_sccm']:.4f}", f"{test['mbar_l_per_s']:.2e}"]
        rows.append([test["name"], str(test["readings"]), f"{test['span_s'] / 60:.1f}", *ends, *drops, *rates])
    notes = [
        "pressures absolute; left: what temperature does not explain; sccm: cm³ a minute at 0 °C and one atmosphere"
    ]
    if facts["together"]["course"] == "agree":
        notes.append(
            "the answer is the mean of the tests; gauge and thermometer err alike in all, so its ± is no smaller"
        )
    return [*columns(rows, " rrrrrrrrrrr"), *notes]


def budget_lines(facts: Facts) -> list[str]:
    """Where the uncertainty of the last test comes from."""
    test = facts["tests"][-1]
    rows = [[f"uncertainty of {test['name']}", "its spread", "u", "", "u of the rate, sccm", "share"]]
    for row in test["budget"]:
        size, unit = (1e6 * row["u"], "mL") if row["unit"] == "m3" else (row["u"], row["unit"])
        share = f"{100 * row['share_of_variance']:.0f} %"
        rows.append(
            [row["input"], row["spread"], f"{size:.3g}", unit, f"{row['u_rate_pa_m3_per_s'] / SCCM:.5f}", share]
        )
    rows.append(["all together (JCGM 100)", "", "", "", f"{test['u_sccm']:.5f}", ""])
    return columns(rows, "  r rr")

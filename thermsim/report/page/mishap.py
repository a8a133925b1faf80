"""Mishaps on the page: time to the first limit, what an alarm gains, the power that stays safe, and curves."""

from __future__ import annotations

from math import log10
from typing import Any

from thermsim.report.page.curves import chart, plain_line
from thermsim.report.style import ALARM
from thermsim.studies.decide.roles import BASE
from thermsim.studies.mishap.answer import urgency
from thermsim.studies.words import plain

Facts = dict[str, Any]
SHORTEST_S, LONGEST_S = 1.0, 8 * 3600.0  # ends of the bars, which are logarithmic


def mishap_groups(facts: Facts) -> dict[str, list[Facts]]:
    """Rows of each option, the most urgent first; a row is a case with its number and the lengths of its bars."""
    groups: dict[str, list[Facts]] = {}
    for number, case in sorted(enumerate(facts["cases"]), key=lambda pair: urgency(pair[1])):
        groups.setdefault(case["option"] or BASE, []).append(_row(number, case))
    order = dict.fromkeys(case["option"] or BASE for case in facts["cases"])
    return {option: groups[option] for option in order}


def _row(number: int, case: Facts) -> Facts:
    first, least = case["first_over"], case["adiabatic"]
    return case | {
        "number": number,
        "bar": None if first is None else log_share(first["time_s"]),
        "least_bar": None if least is None else log_share(least["time_s"]),
    }


def log_share(seconds: float) -> float:
    """Per cent of a bar on a scale of decades."""
    share = log10(max(seconds, SHORTEST_S) / SHORTEST_S) / log10(LONGEST_S / SHORTEST_S)
    return round(100.0 * min(share, 1.0), 1)


def mishap_charts(facts: Facts) -> dict[str, Facts]:
    """Temperatures after each mishap, by "mishap_" and the number of its case."""
    return {f"mishap_{number}": _chart(case) for number, case in enumerate(facts["cases"])}


def _chart(case: Facts) -> Facts:
    minutes = [round(time / 60.0, 3) for time in case["history"]["time_s"]]
    parts = case["history"]["parts_degc"]
    lines = [plain_line(name, minutes, degc, k) for k, (name, degc) in enumerate(parts.items())]
    told = chart("minutes since the mishap", "°C", lines)
    limits = case["limits_degc"]
    told["limits"] = [{"y": limits[name], "colour": line["colour"]} for name, line in zip(parts, lines, strict=True)
                      if name in limits]  # fmt: skip
    marks, first, alarm = [], case["first_over"], case["best_alarm"]
    if alarm is not None and alarm["rise_k"] is not None:
        marks.append(
            {"x": alarm["rings_s"] / 60.0, "text": f"{alarm['of']} +{alarm['rise_k']:g} K", "colour": "#0b4f8a"}
        )
    if first is not None:
        marks.append({"x": first["time_s"] / 60.0, "text": f"{plain(first['part'])} over its limit", "colour": ALARM})
    return told | {"marks": marks}

"""A mishap study as plain text: the answer first, a table for each option, what alarms gain, what to be wary of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.report.text import closing, columns, number, opening, paragraphs
from thermsim.studies.mishap.alarms import THRESHOLDS_K
from thermsim.studies.mishap.answer import called, span, urgency
from thermsim.studies.words import safe_share, safe_watts

Facts = dict[str, Any]
ALARMS_OF = 3  # of the most urgent mishaps of each option
READINGS = 4  # thermometers told of each


def mishap_text(facts: Facts, width: int = 110) -> str:
    """The whole report."""
    options: dict[str, list[Facts]] = {}
    for case in facts["cases"]:
        options.setdefault(called(case), []).append(case)
    blocks = [
        opening(facts, width, "mishaps"),
        *(option_lines(name, sorted(cases, key=urgency)) for name, cases in options.items()),
        alarm_lines(options),
        paragraphs(facts["assumptions"], width),
        closing(facts, width),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def option_lines(name: str, cases: Sequence[Facts]) -> list[str]:
    """One line a mishap, the most urgent first."""
    first = cases[0]
    head = f"{name}, {first['watts']:.3g} W"
    if first["on_top_of"]:
        head += f", on top of {' and '.join(first['on_top_of'])}"
    if first["over_before"]:
        head += f"; over the limit before anything fails: {', '.join(first['over_before'])}"
    rows = [
        ["mishap", "first limit", "part", "with no", "ends with", "", "within limits for ever", ""],
        ["", "passed after", "", "way out", "margin, K", "part", "", "of parts' watts"],
    ]
    return [head, *columns(rows + [_row(case) for case in cases], " r rr rr")]


def _row(case: Facts) -> list[str]:
    over, ends, shortest, safe = (case[key] for key in ("first_over", "ends", "adiabatic", "safe_power"))
    margin = number(ends["worst_margin_k"])
    if ends["coldest_degc"] is None:
        margin = "none: rises on"
    elif not ends["settled"]:
        margin += " at last"
    most = "≥ " if safe and safe["at_least"] else ""
    return [
        case["text"],
        _when(case),
        over["part"] if over else "",
        span(shortest["time_with_s"]) if shortest and over else "–",
        margin,
        ends["worst_part"] or "",
        f"{most}{safe_watts(safe['watts'])}" if safe else "–",
        safe_share(safe["factor"]) if safe else "–",
    ]


def _when(case: Facts) -> str:
    if case["first_over"]:
        return span(case["first_over"]["time_s"])
    if not case["limits_degc"]:
        return "no limit"
    return "no more" if case["over_before"] else "never"


def alarm_lines(options: dict[str, list[Facts]]) -> list[str]:
    """How long before the first limit alarms ring, for the most urgent mishaps."""
    rows: list[list[str]] = []
    for name, cases in options.items():
        urgent = [case for case in sorted(cases, key=urgency) if case["first_over"]]
        for case in urgent[:ALARMS_OF]:
            names = [f"{name}: {case['text']}", *[""] * READINGS]
            rows += [[first, *row] for first, row in zip(names, _alarm_rows(case)[:READINGS], strict=False)]
    head = ["how long before the first limit an alarm rings", "", "+3 K", "+5 K", "+10 K"]
    return columns([head, *rows], "  rrr") if rows else []


def _alarm_rows(case: Facts) -> list[list[str]]:
    """The switch first, then thermometers that ring in time, not those in a stream that stands."""
    rows = [[alarm["of"], "at once", "", ""] for alarm in case["alarms"] if alarm["rise_k"] is None][:1]
    leads: dict[str, dict[float, float | None]] = {}
    for alarm in case["alarms"]:
        if alarm["rise_k"] is not None and not alarm["stream_stands"]:
            leads.setdefault(alarm["of"], {})[alarm["rise_k"]] = alarm["lead_s"]
    ranked = sorted(leads, key=lambda of: -(leads[of].get(5.0) or 0.0))
    in_time = [of for of in ranked if any((lead or 0.0) > 0 for lead in leads[of].values())]
    rows += [[of, *(_lead(leads[of].get(rise)) for rise in THRESHOLDS_K)] for of in in_time]
    return rows if in_time else [*rows, ["no thermometer in time", "", "", ""]]


def _lead(seconds: float | None) -> str:
    return span(seconds) if seconds is not None and seconds > 0 else "too late"

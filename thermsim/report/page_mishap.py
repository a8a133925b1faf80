"""Mishaps on the page: time to the first limit, what an alarm gains, the power that stays safe, and curves."""

from __future__ import annotations

from math import log10
from typing import Any

from thermsim.report.page_curves import chart, plain_line
from thermsim.report.style import ALARM, plain

Facts = dict[str, Any]
SHORTEST, LONGEST = 10.0, 4 * 3600.0  # s, ends of the bars, which are logarithmic


def mishap_rows(facts: Facts) -> list[Facts]:
    """A row a case, the most urgent first: those that pass a limit by time, then by what margin they keep."""
    rows = [_row(number, case) for number, case in enumerate(facts["cases"])]
    return sorted(
        rows, key=lambda row: (row["since_s"] is None, row["since_s"] or 0.0, row["ends"]["worst_margin_k"] or 0.0)
    )


def _row(number: int, case: Facts) -> Facts:
    over = case["first_over"]
    since = None if over is None else max(over["time_s"], 0.0)
    leads = [alarm for alarm in case["alarms"] if alarm["lead_s"] is not None]
    return case | {
        "number": number,
        "since_s": since,
        "bar": None if since is None else log_share(since),
        "adiabatic_bar": None if case["adiabatic"] is None else log_share(case["adiabatic"]["time_s"]),
        "alarm": max(leads, key=lambda alarm: alarm["lead_s"], default=None),
    }


def log_share(seconds: float) -> float:
    """Per cent of a bar on a scale of decades."""
    share = log10(max(seconds, SHORTEST) / SHORTEST) / log10(LONGEST / SHORTEST)
    return round(100.0 * min(share, 1.0), 1)


def mishap_charts(facts: Facts) -> dict[str, Facts]:
    """Temperatures after each mishap, by "mishap" and the number of its case."""
    return {f"mishap_{number}": _chart(case) for number, case in enumerate(facts["cases"])}


def _chart(case: Facts) -> Facts:
    minutes = [time / 60.0 for time in case["history"]["time_s"]]
    lines = [plain_line(name, minutes, degc, k) for k, (name, degc) in enumerate(case["history"]["parts_degc"].items())]
    told = chart("minutes since the mishap", "°C", lines)
    over = case["first_over"]
    if over is None:
        return told
    return told | {
        "levels": [{"y": over["limit_degc"], "text": f"limit of {plain(over['part'])}", "colour": ALARM}],
        "marks": [{"x": over["time_s"] / 60.0, "text": f"{plain(over['part'])} over its limit", "colour": ALARM}],
    }

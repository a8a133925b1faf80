"""The comparison of options as plain rows, and the answer they give, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from thermsim.report.text import minutes
from thermsim.store.result import Result
from thermsim.studies.musts import verdict_text
from thermsim.studies.words import plain

Row = dict[str, Any]


def option_row(result: Result, name: str | None = None) -> Row:
    """What decides between options, from a result's summary: plain values, units in the keys."""
    summary = result.summary
    musts, parts, warm = summary["must_haves"], summary["parts"], summary["warm_up"]
    failed = [must for must in musts if must["met"] is False]
    unknown = [must["name"] for must in musts if must["met"] is None]
    margins = {part: told["margin_k"] for part, told in parts.items() if told["margin_k"] is not None}
    worst = min(margins, key=lambda part: margins[part], default=None)
    over = {part: at for part, told in parts.items() if (at := told["over_limit_at_s"]) is not None}
    first = min(over, key=lambda part: over[part], default=None)
    mishaps = {mishap: result.case.spec.mishap[mishap].at for mishap in result.case.mishaps}
    return {
        "option": name or summary["option"] or "base",
        "mishaps_at_s": mishaps,
        "struck_later": bool(mishaps) and min(mishaps.values()) > 0,
        "meets_all": False if failed else None if unknown else True,
        "failed": [verdict_text(must) for must in failed],
        "cannot_tell": unknown,
        "worst_part": worst,
        "worst_margin_k": margins[worst] if worst is not None else None,
        "first_over": first,
        "first_over_at_s": over[first] if first is not None else None,
        "parts": {
            part: {key: told[key] for key in ("steady_at_end_degc", "worst_degc", "limit_degc", "margin_k")}
            for part, told in parts.items()
        },
        "warm_up_s": warm.get("time_s"),
        "slowest_part": warm.get("slowest_part"),
        "air_m3_per_h": {way: air["flow_m3_per_h"] for way, air in summary["air"].items()},
        "coolant_l_per_min": {loop: told["flow_l_per_min"] for loop, told in summary["coolant"].items()},
        "coolant_degc": {
            loop: [told["coldest_degc"], told["hottest_degc"]] for loop, told in summary["coolant"].items()
        },
        "coolant_at_end_degc": {loop: told["hottest_at_end_degc"] for loop, told in summary["coolant"].items()},
        "noise_without": summary["noise"]["without"],
        "noise_dba": summary["noise"]["sources_dba"],
        "noise_with_room_dba": summary["noise"]["with_room_dba"],
        "warnings": len(summary["warnings"]) + len(summary["limits"]),
    }


def answer(rows: Sequence[Row]) -> list[str]:
    """The comparison in a few sentences: what passes, what is best among it, what mishaps do."""
    options = [row for row in rows if not row["mishaps_at_s"]]
    good = [row for row in options if row["meets_all"]]
    lines = []
    if good:
        verb = "meets" if len(good) == 1 else "meet"
        names = ", ".join(_quoted(row) for row in good)
        lines.append(f"{len(good)} of {len(options)} options {verb} every must-have: {names}.")
    elif options:
        lines.append(f"None of the {len(options)} options meets every must-have.")
    for key, pick, label, more in MERITS:
        best = _first(good or options, key, pick)
        if best:
            lines.append(f"{label}{'' if good else ' (though it fails)'}: {_merit(best, key)}.")
        ever = _first(options, key, pick)
        if good and best and ever and ever["meets_all"] is False and ever[key] != best[key]:
            lines[-1] += f" {_quoted(ever)} would be {more}, {_value(ever, key)}, but fails."
    return lines + [_mishap_line(row) for row in rows if row["mishaps_at_s"]]


MERITS: tuple[tuple[str, Callable[..., Row], str, str], ...] = (
    ("worst_margin_k", max, "Most margin", "cooler"),
    ("noise_with_room_dba", min, "Quietest", "quieter"),
    ("warm_up_s", min, "Soonest warm", "sooner"),
)


def _merit(row: Row, key: str) -> str:
    """An option and what it is worth by one measure."""
    whose = {"worst_margin_k": "worst_part", "warm_up_s": "slowest_part"}.get(key)
    part = f" ({plain(row[whose])})" if whose else ""
    return f"{_quoted(row)}, {_value(row, key)}{part}"


def _quoted(row: Row) -> str:
    return f"“{row['option']}”"


def _value(row: Row, key: str) -> str:
    value = row[key]
    if key == "worst_margin_k":
        return f"{value:.1f} K to the nearest limit" if value >= 0 else f"{-value:.1f} K over a limit"
    return f"{value:.1f} dB(A)" if key == "noise_with_room_dba" else f"{minutes(value)} for the slowest part"


def _mishap_line(row: Row) -> str:
    name = ", ".join(plain(mishap) for mishap in row["mishaps_at_s"])
    head = f"Mishap ({name}) in {_quoted(row)}: "
    if row["first_over"] is None:
        return head + ("all stay within their limits." if row["worst_part"] else "no part has a limit.")
    since = row["first_over_at_s"] - min(row["mishaps_at_s"].values())
    when = f"{minutes(since)} after it begins" if since >= 0 else "even before it begins"
    return head + f"{plain(row['first_over'])} is the first over its limit, {when}."


def _first(rows: Sequence[Row], key: str, pick: Callable[..., Row]) -> Row | None:
    having = [row for row in rows if row[key] is not None]
    return pick(having, key=lambda row: row[key]) if having else None

"""A leak test on the page: the tests as rows, and each logged one's pressure at 20 °C with its line and band."""

from __future__ import annotations

from typing import Any

from thermsim.report.page.curves import chart, plain_line
from thermsim.report.style import ALARM, FAINT, LINES

Facts = dict[str, Any]


def leak_charts(facts: Facts) -> dict[str, Facts]:
    """Change of pressure while it was held, by "leak_" and the number of the test; only of logged tests."""
    return {
        f"leak_{number}": _chart(facts, test["curve"])
        for number, test in enumerate(facts["tests"])
        if test["curve"]["line_pa"] is not None
    }


def _chart(facts: Facts, curve: Facts) -> Facts:
    minutes = [round(time / 60, 3) for time in curve["time_s"]]
    start = curve["line_pa"][0]
    fall = [round(one - start, 2) for one in curve["line_pa"]]
    lines = [
        plain_line("reading at 20 °C", minutes, [round(one - start, 1) for one in curve["counted_pa"]], 0),
        plain_line("at 20 °C", minutes, fall, 0),
        plain_line("as read", minutes, [round(one - curve["read_pa"][0], 1) for one in curve["read_pa"]]),
    ]
    lines[0]["dash"], lines[2]["colour"] = "1 3", FAINT
    if facts["limit"] is not None:
        lines.append(_limit(facts, minutes))
    band = [
        {
            "x": minutes, "colour": LINES[0],
            "low": [round(one - off, 2) for one, off in zip(fall, curve["band_pa"], strict=True)],
            "high": [round(one + off, 2) for one, off in zip(fall, curve["band_pa"], strict=True)],
        }
    ]  # fmt: skip
    labels = [{"text": line["name"], "y": line["y"][-1], "colour": line["colour"]} for line in lines[1:]]
    return chart("minutes held", "change of pressure, Pa", lines) | {"areas": band, "labels": labels}


def _limit(facts: Facts, minutes: list[float]) -> Facts:
    """The fall that the limit allows: a loop under vacuum rises instead."""
    rate = 60 * facts["limit"]["pa_m3_per_s"] / facts["volume_m3"] * (1 if facts["inwards"] else -1)
    line = plain_line("the limit", minutes, [round(rate * (time - minutes[0]), 2) for time in minutes])
    return line | {"colour": ALARM, "dash": "6 4"}

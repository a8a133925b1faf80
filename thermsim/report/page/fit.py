"""A fit on the page: each unknown against what was believed, what was held out, and what the model is off by."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermsim.bench.fit.answer import shown
from thermsim.case.channels import is_temperature
from thermsim.report.page.curves import chart, plain_line
from thermsim.report.style import LINES
from thermsim.studies.sweep.answer import plain

Facts = dict[str, Any]
BEFORE, AFTER = LINES[5], LINES[0]  # orange and blue, as in the figures
MOST_CHANNELS = 6
MOST_HELD = 10


def fit_content(facts: Facts) -> Facts:
    """The facts with rows of unknowns in words, the held-out series that are worst, and the charts there are."""
    held = [one for one in facts["held_out"]["series"] if is_temperature(one["channel"])]
    held.sort(key=lambda one: -abs(one["error"]) / one["u"])
    return facts | {
        "rows": [_unknown(one) for one in facts["unknowns"]],
        "held": [one | {"name": plain(one["channel"]), "wide": 1.96 * one["u"]} for one in held[:MOST_HELD]],
        "more_held": max(len(held) - MOST_HELD, 0),
        "channels": [{"number": k, "name": plain(name)} for k, name in enumerate(shown_channels(facts))],
    }


def _unknown(one: Facts) -> Facts:
    believed = None
    if one["prior_low_95"] is not None:
        believed = f"{shown(one, one['prior_low_95'])} to {shown(one, one['prior_high_95'])}"
    return {
        "name": plain(one["name"]),
        "before": shown(one, one["before"]),
        "value": shown(one, one["value"]),
        "sure": f"{shown(one, one['low_95'])} to {shown(one, one['high_95'])}",
        "believed": believed,
        "remark": _remark(one),
    }


def _remark(one: Facts) -> str:
    if one["bound_hit"]:
        return f"rests on its {one['bound_hit']} bound"
    if one["said_nothing"]:
        return "the logs say nothing of it"
    return "far from what was believed" if one["surprising"] else ""


def shown_channels(facts: Facts) -> list[str]:
    """Temperatures that have a chart: the probe that was held out, then those that were furthest off before."""
    size: dict[str, float] = {}
    for one in facts["traces"]:
        if is_temperature(one["channel"]):
            size[one["channel"]] = max(size.get(one["channel"], 0.0), float(np.abs(one["before"]).max()))
    probe = facts["held_out"]["probe"]
    return sorted(size, key=lambda name: (name != probe, -size[name]))[:MOST_CHANNELS]


def fit_charts(facts: Facts) -> dict[str, Facts]:
    """Model less measured over time by "fit_" and the number of the channel: every run before and after the fit."""
    return {f"fit_{k}": _chart(facts, name) for k, name in enumerate(shown_channels(facts))}


def _chart(facts: Facts, channel: str) -> Facts:
    lines = []
    for one in facts["traces"]:
        if one["channel"] == channel:
            minutes = [round(time / 60, 2) for time in one["time_s"]]
            for when, colour in (("before", BEFORE), ("after", AFTER)):
                held = " (not shown to the fit)" if one["held"] else ""
                line = plain_line(f"{one['run']}, {when} the fit{held}", minutes, [round(off, 3) for off in one[when]])
                lines.append(line | {"colour": colour, "dash": "2 3" if one["held"] else ""})
    ends = {when: float(np.mean([line["y"][-1] for line in lines[k::2]])) for k, when in enumerate(("before", "after"))}
    labels = [
        {"text": f"{when} the fit", "y": ends[when], "colour": colour}
        for when, colour in (("before", BEFORE), ("after", AFTER))
    ]
    return chart("minutes since switch-on", "model less measured, K", lines) | {
        "labels": labels, "levels": [{"y": 0.0, "text": "", "colour": "#6d7880"}],
    }  # fmt: skip

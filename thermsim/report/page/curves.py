"""Curves for the page: few points each, with the labels and marks that make them readable without a legend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.report.control import control_panels
from thermsim.report.curves import end_labels, family_styles
from thermsim.report.figures import apart, hottest_of_families
from thermsim.report.page.fields import rounded
from thermsim.report.style import ALARM, LINES, NOTE, line_style
from thermsim.store.result import Result, Series
from thermsim.studies.words import plain

Chart = dict[str, Any]
TOLERANCE = 0.002  # of a curve's range: what a point left out may be off
MOST_POINTS = 240


def warm_up_chart(result: Result) -> Chart:
    """Part temperatures of one option over time, minutes; limits, mishaps, and when the slowest part is warm."""
    parts = result.curves.get("parts", {})
    styles = family_styles(list(parts))
    curves = [line(name, series, styles[name]) for name, series in parts.items()]
    limits = {(part.limit, styles[name]["color"]) for name, part in result.case.spec.part.items()
              if part.limit is not None and name in styles}  # fmt: skip
    return chart("minutes since switch-on", "°C", thinned(curves)) | {
        "labels": [{"text": at.text, "y": at.value, "colour": at.colour} for at in end_labels(result, styles)],
        "limits": [{"y": limit, "colour": colour} for limit, colour in sorted(limits)],
        "marks": _marks(result),
    }


def control_charts(result: Result) -> list[Chart]:
    """Speeds, flows and noise of one option over time, a chart each."""
    told = []
    for title, curves in control_panels(result).items():
        lines = [line(name, series, line_style(k)) for k, (name, series) in enumerate(curves.items())]
        panel = chart("minutes since switch-on", title, thinned(lines)) | {"from_zero": True}
        panel["labels"] = [{"text": f"{plain(at['name'])} {at['y'][-1]:.3g}", "y": at["y"][-1], "colour": at["colour"]}
                           for at in panel["lines"]]  # fmt: skip
        panel["marks"] = _mishaps(result)
        if title.startswith("noise"):
            panel["levels"] = _noise_levels(result)
        told.append(panel)
    return told


def part_charts(results: Mapping[str, Result]) -> dict[str, Chart]:
    """One part under all options: the hottest of each family of like parts, the tightest first; mishaps apart."""
    told = {}
    for kind, group in apart(results).items():
        for part in sorted(hottest_of_families(group), key=lambda name: _least_margin(group, name)):
            having = {name: result for name, result in group.items() if part in result.curves.get("parts", {})}
            lines = [line(name, result.part(part), line_style(k)) for k, (name, result) in enumerate(having.items())]
            limit = next(iter(having.values())).case.spec.part[part].limit
            told[f"{plain(part)}, all {kind}"] = chart("minutes since switch-on", "°C", thinned(lines)) | {
                "labels": [{"text": f"{at['name']} {at['y'][-1]:.1f}", "y": at["y"][-1], "colour": at["colour"]}
                           for at in lines],
                "levels": [] if limit is None else [{"y": limit, "text": f"limit {limit:g} °C", "colour": ALARM}],
            }  # fmt: skip
    return told


def _least_margin(group: Mapping[str, Result], part: str) -> float:
    """What is left to a part's limit, K, under the option that leaves it least; infinite without a limit."""
    told = [result.summary["parts"][part]["margin_k"] for result in group.values() if part in result.summary["parts"]]
    return min((margin for margin in told if margin is not None), default=inf)


def chart(x_label: str, y_label: str, lines: Sequence[Chart]) -> Chart:
    """A chart as the page draws it."""
    return {"x_label": x_label, "y_label": y_label, "lines": list(lines)}


def line(name: str, series: Series, style: Mapping[str, Any]) -> Chart:
    """A curve over minutes, with its colour and dash."""
    return {
        "name": plain(name), "x": series.time / 60.0, "y": series.values, "colour": style["color"],
        "dash": dashes(style["linestyle"]),
    }  # fmt: skip


def plain_line(name: str, x: Sequence[float], y: Sequence[float | None], index: int = 0) -> Chart:
    """A curve of plain numbers in the n-th colour; None leaves a gap."""
    return {"name": plain(name), "x": list(x), "y": list(y), "colour": LINES[index % len(LINES)], "dash": ""}


def dashes(linestyle: Any) -> str:
    """A matplotlib dash as SVG writes it."""
    return "" if linestyle == "-" else " ".join(f"{1.6 * length:g}" for length in linestyle[1])


def thinned(lines: Sequence[Chart]) -> list[Chart]:
    """The same curves by fewer points: no curve off by more than TOLERANCE of the range of all."""
    if not lines:
        return []
    low, high = min(float(one["y"].min()) for one in lines), max(float(one["y"].max()) for one in lines)
    told = []
    for one in lines:
        kept = corners(one["x"], one["y"], TOLERANCE * max(high - low, 1e-9), MOST_POINTS)
        told.append(one | {"x": rounded(one["x"][kept], 3), "y": rounded(one["y"][kept], 3)})
    return told


def corners(x: Floats, y: Floats, tolerance: float, most: int) -> Ints:
    """Indices of points between which straight lines stay within a tolerance of y (Ramer, Douglas and Peucker)."""
    kept, waiting = {0, x.size - 1}, [(0, x.size - 1)]
    while waiting and len(kept) < most:
        first, last = waiting.pop(0)
        if last - first < 2:
            continue
        inner = np.arange(first + 1, last)
        off = np.abs(np.interp(x[inner], x[[first, last]], y[[first, last]]) - y[inner])
        worst = int(off.argmax())
        if off[worst] > tolerance:
            kept.add(int(inner[worst]))
            waiting += [(first, int(inner[worst])), (int(inner[worst]), last)]
    return np.array(sorted(kept))


def _marks(result: Result) -> list[Chart]:
    """Vertical marks: mishaps, the first limit passed, and when the slowest part is warm."""
    marks = _mishaps(result)
    told = result.summary["warm_up"]
    if told.get("time_s") is not None:
        at = told["stretch_s"][0] + told["time_s"]
        text = f"warm after {told['time_s'] / 60:.1f} min ({plain(told['slowest_part'])})"
        marks.append({"x": at / 60.0, "text": text, "colour": NOTE})
    over = {name: at for name, part in result.summary["parts"].items() if (at := part["over_limit_at_s"]) is not None}
    if over:
        first = min(over, key=lambda name: over[name])
        text = f"{plain(first)} over its limit, {over[first] / 60:.1f} min"
        marks.append({"x": over[first] / 60.0, "text": text, "colour": ALARM})
    return marks


def _mishaps(result: Result) -> list[Chart]:
    begin = {name: result.case.spec.mishap[name].at for name in result.case.mishaps}
    return [{"x": at / 60.0, "text": plain(name), "colour": ALARM} for name, at in begin.items() if at > 0]


def _noise_levels(result: Result) -> list[Chart]:
    """The room's floor, and the must-have on noise."""
    floor = result.case.spec.room.noise_floor
    levels = [] if floor is None else [{"y": floor, "text": f"room {floor:g}", "colour": NOTE}]
    for must in result.summary["must_haves"]:
        if must["of"] == "noise" and must["at_most"] is not None:
            levels.append({"y": must["at_most"], "text": f"must-have: at most {must['at_most']:g}", "colour": ALARM})
    return levels

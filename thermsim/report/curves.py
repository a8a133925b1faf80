"""Curves over time: warm-up of the parts, one part under all options, the drift of readings."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.report.style import (
    ALARM,
    INK,
    heading,
    kind_of,
    line_style,
    new_figure,
    outlined,
    quiet_axes,
    reserve_right,
    spread,
    whose,
)
from thermsim.solve.settle import drift
from thermsim.store.result import Result, Series
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MINUTE = 60.0
EARLY = 5.0  # minutes shown wide at the left, for small parts settle in them
LABEL_POINTS = 11.0  # height of an end label


def warm_up_figure(result: Result) -> Figure:
    """Part temperatures over time; when each settles, when the slowest does, and the limits."""
    parts = result.curves.get("parts", {})
    figure = new_figure(11.0, 5.6)
    end = max((series.time[-1] for series in parts.values()), default=MINUTE) / MINUTE
    both = end > 3 * EARLY
    panels = list(figure.subplots(1, 2, sharey=True, width_ratios=(1, 3))) if both else [figure.subplots()]
    styles = family_styles(list(parts))
    for axes in panels:
        quiet_axes(axes)
        for name, series in parts.items():
            axes.plot(series.time / MINUTE, series.values, linewidth=1.3, label=name, **styles[name])
        axes.set_xlabel("minutes since switch-on")
        mark_mishaps(axes, result)
    main = panels[-1]
    main.set_xlim(0, end)
    if both:
        panels[0].set_xlim(0, EARLY)
        panels[0].set_xlabel(f"the first {EARLY:g} minutes")
    panels[0].set_ylabel("temperature, °C")
    _mark_settled(main, result, styles)
    _mark_limits(main, result, styles)
    _mark_over(main, result)
    label_ends(main, end_labels(result, styles))
    note = "dots: settled; crosses: over the limit; short dashes at the right: limits"
    heading(panels[0], "How soon it is warm", f"{whose(result)} ({note})")
    return figure


def compare_curves(results: Mapping[str, Result], part: str) -> Figure:
    """One part under all options that have it. Raises KeyError if none has."""
    having = {name: result for name, result in results.items() if part in result.curves.get("parts", {})}
    curves = {name: result.curves["parts"][part] for name, result in having.items()}
    if not curves:
        raise KeyError(part)
    figure = new_figure(11.0, 5.2)
    axes = figure.subplots()
    quiet_axes(axes)
    end = max(series.time[-1] for series in curves.values()) / MINUTE
    labels = []
    for k, (name, series) in enumerate(curves.items()):
        style, last = line_style(k), float(series.values[-1])
        axes.plot(series.time / MINUTE, series.values, linewidth=1.5, label=name, **style)
        colour = style["color"]
        axes.plot([series.time[-1] / MINUTE, end], [last, last], color=colour, linewidth=0.5, label="_tie")
        labels.append(EndLabel(f"{name} {last:.1f}", last, colour))
        settled = results[name].summary.get("parts", {}).get(part, {}).get("warm_up_s")
        _dot(axes, results[name], series, settled, colour)
    axes.set_xlim(0, end)
    limit = next(results[name].case.spec.part[part].limit for name in curves)
    if limit is not None and stretch_to(axes, [limit]):
        axes.axhline(limit, color=ALARM, linewidth=1, linestyle=(0, (4, 3)), label="_limit")
        axes.annotate(
            f"limit {limit:g} °C", (1, limit), (-4, 3), xycoords=("axes fraction", "data"), ha="right",
            textcoords="offset points", fontsize=8.5, color=ALARM, path_effects=outlined("white", 3),
        )  # fmt: skip
    axes.set_xlabel("minutes since switch-on")
    axes.set_ylabel(f"{plain(part)}, °C")
    label_ends(axes, labels)
    heading(axes, f"{plain(part)}, all {kind_of(having.values())}", "a dot marks where it has settled")
    return figure


def drift_figure(result: Result) -> Figure | None:
    """Error of readings against where they settle, ppm, and its tolerance; None if no part states drift."""
    told = result.summary.get("parts", {})
    drifting = [name for name, part in told.items() if "reading" in part]
    if not drifting:
        return None
    figure = new_figure(9.5, 4.4)
    axes = figure.subplots()
    quiet_axes(axes)
    labels, tolerances = [], set()
    for k, name in enumerate(drifting):
        spec, series, style = result.case.spec.part[name], result.curves["parts"][name], line_style(k)
        error = 1e6 * drift(series.values, told[name]["steady_degc"], spec.drift, spec.doubling)
        axes.plot(series.time / MINUTE, error, linewidth=1.5, label=name, **style)
        labels.append(EndLabel(plain(name), float(error[-1]), style["color"]))
        reading = told[name]["reading"]
        tolerances.add(reading["tolerance_ppm"])
        shown = Series(series.time, error, "ppm", name)
        _dot(axes, result, shown, reading["warm_up_s"], style["color"])
    for tolerance in tolerances - {None}:
        within = f"±{tolerance:g} ppm"
        axes.axhspan(-tolerance, tolerance, color="#009e73", alpha=0.14, linewidth=0, label=within)
        axes.annotate(within, (1, tolerance), (-4, 3), xycoords=("axes fraction", "data"),
                      textcoords="offset points", ha="right", fontsize=8.5, color="#00664a")  # fmt: skip
    mark_mishaps(axes, result)
    axes.set_xlim(0, float(result.curves["parts"][drifting[0]].time[-1]) / MINUTE)
    axes.set_xlabel("minutes since switch-on")
    axes.set_ylabel("error of the reading, ppm")
    label_ends(axes, labels)
    heading(axes, "How far readings drift", whose(result))
    return figure


def family(name: str) -> str:
    """Name of the family of a part: "adc" for adc1, adc2 …"""
    return re.sub(r"[_ ]?\d+$", "", name)


def family_styles(names: Sequence[str]) -> dict[str, dict[str, Any]]:
    """One line style per family, so that sixteen like parts are one colour."""
    order = {stem: k for k, stem in enumerate(dict.fromkeys(family(name) for name in names))}
    return {name: line_style(order[family(name)]) for name in names}


@dataclass(frozen=True)
class EndLabel:
    """Text at the right end of a curve, at height `value`."""

    text: str
    value: float
    colour: str


def label_ends(axes: Axes, labels: Sequence[EndLabel], height: float = 280.0) -> None:
    """Write labels beside the right ends of curves, moved apart, tied to their curves by thin lines.

    `height`: about that of the axes, points.
    """
    low, high = axes.get_ylim()
    size = min(9.0, 8.5 * height / (LABEL_POINTS * max(len(labels), 1)))
    places = spread([label.value for label in labels], LABEL_POINTS * (high - low) / height, low, high)
    for label, place in zip(labels, places, strict=True):
        text = axes.annotate(
            label.text, (1, label.value), (1.035, place), xycoords=("axes fraction", "data"),
            textcoords=("axes fraction", "data"), fontsize=size, color=label.colour, va="center",
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-", "color": label.colour, "lw": 0.7, "shrinkA": 0, "shrinkB": 0,
                "relpos": (0, 0.5),
            },
        )  # fmt: skip
        text.set_in_layout(False)
    longest = max((len(label.text) for label in labels), default=0)
    figure = axes.get_figure(root=True)
    assert figure is not None
    reserve_right(figure, 0.5 + longest * size * 0.6 / 72)


def end_labels(result: Result, styles: Mapping[str, dict[str, Any]]) -> list[EndLabel]:
    """One label a family; a family of several gives its range."""
    families: dict[str, list[str]] = {}
    for name in result.curves.get("parts", {}):
        families.setdefault(family(name), []).append(name)
    labels = []
    for stem, names in families.items():
        ends = np.array([result.curves["parts"][name].values[-1] for name in names])
        limits = {result.case.spec.part[name].limit for name in names}
        limit = limits.pop() if len(limits) == 1 else None
        bound = f" (limit {limit:g})" if limit is not None else ""
        if len(names) == 1:
            text = f"{plain(names[0])} {ends[0]:.1f}{bound}"
        else:
            text = f"{plain(stem)} ×{len(names)} {ends.min():.1f}–{ends.max():.1f}{bound}"
        labels.append(EndLabel(text, float(ends.max()), styles[names[0]]["color"]))
    return labels


def _mark_settled(axes: Axes, result: Result, styles: Mapping[str, dict[str, Any]]) -> None:
    told = result.summary.get("warm_up", {})
    for name, part in result.summary.get("parts", {}).items():
        _dot(axes, result, result.curves["parts"][name], part["warm_up_s"], styles[name]["color"])
    time = told.get("time_s")
    if time is None:
        return
    at = (told["stretch_s"][0] + time) / MINUTE
    axes.axvline(at, color=INK, linewidth=1, gid="slowest")
    left = at > 0.6 * axes.get_xlim()[1]
    slowest = f"slowest: {plain(told['slowest_part'])}, {time / MINUTE:.1f} min"
    axes.annotate(
        f"{slowest} to stay within {told['tolerance_k']:g} K",
        (at, 0.07), (-5 if left else 5, 0), xycoords=("data", "axes fraction"), textcoords="offset points",
        fontsize=9, color=INK, ha="right" if left else "left", va="bottom", path_effects=outlined("white", 3),
    )  # fmt: skip


def _dot(axes: Axes, result: Result, series: Series, settled: float | None, colour: str) -> None:
    """A marker where a curve has settled; `settled` is seconds into the calm stretch."""
    if settled is None:
        return
    start = result.summary.get("warm_up", {}).get("stretch_s", [0.0])[0]
    time = start + settled
    axes.plot(
        time / MINUTE, np.interp(time, series.time, series.values), "o", markersize=5, color=colour,
        markeredgecolor="white", markeredgewidth=0.8, zorder=4, label="_settled",
    )  # fmt: skip


def stretch_to(axes: Axes, values: Sequence[float]) -> list[float]:
    """Raise the top of the axis to the values not far above the curves; returns those in view."""
    low, high = axes.get_ylim()
    near = [value for value in values if low <= value <= high + 0.35 * (high - low)]
    axes.set_ylim(low, max([high, *(value + 0.04 * (high - low) for value in near)]))
    return near


def _mark_limits(axes: Axes, result: Result, styles: Mapping[str, dict[str, Any]]) -> None:
    """A short dashed mark at the right edge for each limit that is near the curves."""
    limits = {
        (limit, style["color"])
        for name, style in styles.items()
        if (limit := result.case.spec.part[name].limit) is not None
    }
    near = stretch_to(axes, [limit for limit, _ in limits])
    for limit, colour in sorted(limits):
        if limit in near:
            axes.plot(
                [0.965, 1.0], [limit, limit], transform=axes.get_yaxis_transform(), color=colour,
                linewidth=2.4, linestyle=(0, (2, 0.8)), label="_limit",
            )  # fmt: skip


def _mark_over(axes: Axes, result: Result) -> None:
    """A cross where a part goes over its limit, and which is the first."""
    parts = result.summary.get("parts", {})
    over = {name: at for name, part in parts.items() if (at := part["over_limit_at_s"]) is not None}
    if not over:
        return
    for name, time in over.items():
        axes.plot(
            time / MINUTE, parts[name]["limit_degc"], "X", color=ALARM, markersize=7, markeredgecolor="white",
            zorder=5, label="_over",
        )  # fmt: skip
    first = min(over, key=lambda name: over[name])
    more = f", then {len(over) - 1} more" if len(over) > 1 else ""
    axes.annotate(
        f"first over its limit: {plain(first)}, after {over[first] / MINUTE:.1f} min{more}",
        (1, 0), (-6, 8), xycoords="axes fraction", textcoords="offset points", fontsize=9, color=ALARM,
        ha="right", va="bottom", path_effects=outlined("white", 3),
    )  # fmt: skip


def mark_mishaps(axes: Axes, result: Result) -> None:
    """A dotted line where a mishap begins after switch-on."""
    for name in result.case.mishaps:
        at = result.case.spec.mishap[name].at
        if at > 0:
            axes.axvline(at / MINUTE, color=ALARM, linewidth=1, linestyle=":", gid=f"mishap {name}")
            axes.annotate(
                plain(name), (at / MINUTE, 1), (3, -3), xycoords=("data", "axes fraction"), va="top",
                textcoords="offset points", fontsize=8.5, color=ALARM, annotation_clip=True,
            )  # fmt: skip

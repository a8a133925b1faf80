"""Figures of a mishap study: time to the first limit as bars, and the curves behind the most urgent."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.report.figures import FORMATS, save_all
from thermsim.report.style import ALARM, FAINT, INK, LINES, NOTE, heading, line_style, new_figure, outlined, quiet_axes
from thermsim.studies.mishap.answer import called, span, urgency
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Facts = dict[str, Any]
TICKS = {10.0: "10 s", 60.0: "1 min", 600.0: "10 min", 3600.0: "1 h", 8 * 3600.0: "8 h"}
SHORTEST = 5.0  # s, where the bars begin
BAR, BELL, BOUND = LINES[1], LINES[0], INK
PANELS, ACROSS = 12, 3
PANEL_INCHES = (4.2, 2.9)
ROW_INCHES = 0.36


def save_mishap(facts: Facts, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write the figures as `mishap-times` and `mishap-curves`."""
    return save_all(_figures(facts), folder, formats)


def _figures(facts: Facts) -> Iterator[tuple[str, Figure]]:
    if facts["cases"]:
        yield "mishap-times", times_figure(facts)
    urgent = [case for case in sorted(facts["cases"], key=urgency) if case["first_over"]][:PANELS]
    if urgent:
        yield "mishap-curves", curves_figure(facts, urgent)


def times_figure(facts: Facts) -> Figure:
    """A bar a mishap on a scale of decades, a panel an option: first limit, first alarm, shortest possible."""
    options: dict[str, list[Facts]] = {}
    for case in facts["cases"]:
        options.setdefault(called(case), []).append(case)
    counts = [len(cases) for cases in options.values()]
    figure = new_figure(10.5, sum(0.85 + ROW_INCHES * count for count in counts) + 0.4)
    panels = figure.subplots(len(counts), 1, sharex=True, squeeze=False, height_ratios=[c + 1.4 for c in counts])[:, 0]
    for axes, (name, cases) in zip(panels, options.items(), strict=True):
        _bars(axes, sorted(cases, key=urgency, reverse=True))
        over = cases[0]["over_before"]
        note = f"over before anything fails: {', '.join(map(plain, over))}" if over else ""
        heading(axes, f"Time to the first limit: {name}", note)
    axes = panels[-1]
    axes.set_xscale("log")
    axes.set_xlim(SHORTEST, max(TICKS))
    axes.set_xticks(list(TICKS), list(TICKS.values()))
    axes.minorticks_off()
    note = "since the mishap; diamond: the best thermometer's alarm rings; tick: the part's own watts with no way out"
    axes.set_xlabel(note, fontsize=8.5, color=NOTE)
    return figure


def _bars(axes: Axes, cases: Sequence[Facts]) -> None:
    quiet_axes(axes, "x")
    for row, case in enumerate(cases):
        over, ends, alarm, shortest = (case[key] for key in ("first_over", "ends", "best_alarm", "adiabatic"))
        text, at, colour = _kept(ends), SHORTEST, NOTE
        if over:
            text, at, colour = f"{span(over['time_s'])}, {plain(over['part'])}", max(over["time_s"], SHORTEST), INK
            axes.barh(row, at - SHORTEST, left=SHORTEST, height=0.62, color=BAR, alpha=0.85, label="_bar")
            if shortest:
                axes.plot(
                    [max(shortest["time_with_s"], SHORTEST)] * 2, [row - 0.42, row + 0.42], color=BOUND, linewidth=1.6
                )
            if alarm:
                axes.plot(
                    max(alarm["rings_s"], SHORTEST), row, "D", color=BELL, markersize=6.5, markeredgecolor="white",
                    clip_on=False, zorder=5,
                )  # fmt: skip
        axes.annotate(
            text, (at, row), (7, 0), textcoords="offset points", va="center", fontsize=8.5, color=colour,
            path_effects=outlined("white", 3), annotation_clip=False,
        )  # fmt: skip
    axes.set_yticks(range(len(cases)), [case["text"] for case in cases])
    axes.set_ylim(-0.6, len(cases) - 0.4)


def _kept(ends: Facts) -> str:
    if ends["worst_margin_k"] is None:
        return "no part has a limit"
    if ends["worst_margin_k"] < 0:
        return f"nothing more; {plain(ends['worst_part'])} stays {-ends['worst_margin_k']:.1f} K over"
    return f"never; {plain(ends['worst_part'])} keeps {ends['worst_margin_k']:.1f} K"


def curves_figure(facts: Facts, cases: Sequence[Facts]) -> Figure:
    """The parts nearest to their limits after each of some mishaps, a panel each."""
    across = min(ACROSS, len(cases))
    down = -(-len(cases) // across)
    figure = new_figure(PANEL_INCHES[0] * across, PANEL_INCHES[1] * down + 0.3)
    panels = figure.subplots(down, across, squeeze=False).ravel()
    for axes, case in zip(panels, cases, strict=False):
        _panel(axes, case)
    for axes in panels[len(cases) :]:
        axes.set_visible(False)
    return figure


def _panel(axes: Axes, case: Facts) -> None:
    quiet_axes(axes)
    times, over, alarm = np.array(case["history"]["time_s"]), case["first_over"], case["best_alarm"]
    unit, scale = ("s", 1.0) if times[-1] < 300 else ("min", 60.0) if times[-1] < 4 * 3600 else ("h", 3600.0)
    for k, (name, degc) in enumerate(case["history"]["parts_degc"].items()):
        axes.plot(times / scale, degc, linewidth=1.5, label=plain(name), **line_style(k))
    limit, at = over["limit_degc"], over["time_s"] / scale
    axes.axhline(limit, color=ALARM, linewidth=1, linestyle=(0, (4, 3)), label="_limit")
    axes.plot(at, limit, "X", color=ALARM, markersize=8, markeredgecolor="white", zorder=5)
    side, shift = ("left", 6) if at < 0.45 * times[-1] / scale else ("right", -6)
    axes.annotate(
        f"{plain(over['part'])} {limit:g} °C, {span(over['time_s'])}", (at, limit), (shift, 4), ha=side, fontsize=8,
        textcoords="offset points", color=ALARM, path_effects=outlined("white", 3),
    )  # fmt: skip
    if alarm:
        rings = alarm["rings_s"] / scale
        axes.axvline(rings, color=BELL, linewidth=1, linestyle=":")
        axes.annotate(
            f"alarm: {alarm['of']} +{alarm['rise_k']:g} K", (rings, 0), (3, 4), xycoords=("data", "axes fraction"),
            textcoords="offset points", fontsize=7.5, color=BELL, path_effects=outlined("white", 3),
        )  # fmt: skip
    axes.set_xlim(0, times[-1] / scale)
    axes.set_xlabel(f"{unit} since the mishap", fontsize=8, color=FAINT)
    axes.set_ylabel("°C", fontsize=8)
    axes.margins(y=0.12)
    axes.legend(fontsize=7, frameon=False, loc="best", labelcolor=INK)
    axes.set_title(
        fill(f"{called(case)}: {case['text']}", 46), loc="left", fontsize=9, fontweight="bold", color=INK
    )  # fmt: skip

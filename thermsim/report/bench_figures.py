"""Figures of a before/after comparison: what changed with its intervals and the model's word; traces of both."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermsim.bench.paired.answer import short
from thermsim.report.figures import save_all
from thermsim.report.style import (
    ALARM,
    FAINT,
    INK,
    LINES,
    NOTE,
    heading,
    line_style,
    new_figure,
    of_study,
    quiet_axes,
    spread,
)
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Facts = dict[str, Any]
MEASURED, MODELLED = LINES[0], LINES[1]
MOST = 30  # rows
TWICE = 2.0  # standard uncertainties of the model, about 95 %


def save_bench(facts: Facts, folder: str | Path) -> list[Path]:
    """Draw the figures of a comparison into a folder."""
    figures = [("bench-changes", change_figure(facts)), ("bench-traces", trace_figure(facts))]
    return save_all([(name, figure) for name, figure in figures if figure is not None], folder)


def change_figure(facts: Facts) -> Figure | None:
    """Rises before and after on the left, the change with its interval and the model's on the right."""
    rows = [row for row in facts["rows"] if row["is_rise"]][:MOST]
    if not rows:
        return None
    figure = new_figure(10.2, 2.0 + 0.27 * len(rows))
    left, right = figure.subplots(1, 2, sharey=True)
    for axes in (left, right):
        quiet_axes(axes, "x")
    for at, row in enumerate(rows):
        _rises(left, at, row)
        _change(right, at, row)
    left.set_yticks(range(len(rows)), [plain(short(row["channel"])) for row in rows])
    left.set_ylim(len(rows) - 0.4, -0.6)
    left.set_xlim(left=min(0.0, left.get_xlim()[0]))
    right.axvline(0, color=FAINT, linewidth=0.9)
    heading(left, "Rise over the room", "ring: before; dot: after; bars: run to run")
    note = "blue: measured, 95 %"
    if any(row["model"] for row in rows):
        note += "; orange: the model, about 95 %; red: they disagree"
    heading(right, "Change, after less before", note)
    left.set_xlabel("K", fontsize=8.5, color=NOTE)
    right.set_xlabel("K", fontsize=8.5, color=NOTE)
    figure.supxlabel(of_study(facts), fontsize=8.5, color=NOTE, x=0.01, ha="left")
    return figure


def _rises(axes: Axes, at: int, row: Facts) -> None:
    before, after = row["before"], row["after"]
    axes.plot([before["mean"], after["mean"]], [at, at], color="#c9d2d8", linewidth=2, zorder=1)
    for stand, filled in ((before, False), (after, True)):
        if stand["scatter"]:
            axes.errorbar(stand["mean"], at, xerr=stand["scatter"], color=INK, linewidth=0.8, capsize=1.5, zorder=2)
        axes.plot(
            stand["mean"], at, "o", markersize=5.5, color=MEASURED, markeredgewidth=1.2,
            markerfacecolor=MEASURED if filled else "white", zorder=3,
        )  # fmt: skip


def _change(axes: Axes, at: int, row: Facts) -> None:
    model = row["model"]
    lift = 0.16 if model else 0.0
    axes.errorbar(
        row["change"],
        at - lift,
        xerr=row["half_width"],
        fmt="o",
        markersize=4.5,
        color=MEASURED,
        linewidth=1.4,
        capsize=2.5,
    )
    if not model:
        return
    wrong = model["change_agrees"] is False
    axes.errorbar(
        model["change"], at + lift, xerr=TWICE * model["change_u"], fmt="D", markersize=4,
        color=ALARM if wrong else MODELLED, linewidth=1.2, capsize=2.5,
    )  # fmt: skip


def trace_figure(facts: Facts) -> Figure | None:
    """The first run of each stand: readings as lines, the model under the same room as broken lines."""
    told = facts["traces"]
    if not told or not any(told[when]["channels"] for when in told):
        return None
    figure = new_figure(10.2, 4.4)
    panels = figure.subplots(1, 2, sharey=True)
    for axes, when in zip(panels, ("before", "after"), strict=True):
        _traces(axes, when, told[when], facts["options"][when] or "base case")
    panels[0].set_ylabel("°C", fontsize=8.5, color=NOTE)
    figure.supxlabel(of_study(facts), fontsize=8.5, color=NOTE, x=0.01, ha="left")
    return figure


def _traces(axes: Axes, when: str, traces: Facts, option: str) -> None:
    quiet_axes(axes)
    minutes = [time / 60 for time in traces["time_s"]]
    ends = {}
    for number, (channel, pair) in enumerate(traces["channels"].items()):
        colour = line_style(number)["color"]
        measured = [float("nan") if value is None else value for value in pair["measured"]]
        modelled = [float("nan") if value is None else value for value in pair["modelled"]]
        axes.plot(minutes, measured, color=colour, linewidth=1.3)
        axes.plot(minutes, modelled, color=colour, linewidth=1.3, linestyle=(0, (4, 2)), alpha=0.85)
        ends[channel] = (next(value for value in reversed(measured) if value == value), colour)
    low, high = axes.get_ylim()
    places = spread([value for value, _ in ends.values()], 0.055 * (high - low), low, high)
    for (channel, (_, colour)), place in zip(ends.items(), places, strict=True):
        axes.annotate(
            plain(short(channel)), (1, place), (4, 0), xycoords=("axes fraction", "data"),
            textcoords="offset points", va="center", fontsize=8, color=colour, annotation_clip=False,
        )  # fmt: skip
    heading(axes, f"{when.capitalize()}: {option}", f"{traces['run']}; line: measured, broken: model as logged")
    axes.set_xlabel("minutes since switch-on", fontsize=8.5, color=NOTE)

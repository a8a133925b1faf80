"""The figure of a loop's book: pump against loop, and where the head goes along the path."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermsim.case.names import slug
from thermsim.report.figures import FORMATS, save_all
from thermsim.report.style import ALARM, FAINT, INK, LINES, NOTE, heading, new_figure, of_study, outlined, quiet_axes
from thermsim.studies.loop.answer import in_a_branch

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Facts = dict[str, Any]
SHARES = {"friction_pa": "friction", "fittings_pa": "bends, fittings", "bore_steps_pa": "changes of bore",
          "measured_pa": "as measured"}  # fmt: skip
COLOURS = dict(zip(SHARES, (LINES[0], LINES[5], LINES[1], LINES[2]), strict=True))
UNCERTAIN = ("near transition", "transitional")


def save_loop(facts: Facts, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write a figure a book: `loop.png` and `loop.svg`, with option and loop in the name where there are several."""
    books = facts["books"]
    named = []
    for book in books:
        more = [book["option"]] if facts["option"] is None else []
        more += [book["loop"]] if sum(other["option"] == book["option"] for other in books) > 1 else []
        named.append(("-".join(["loop", *map(slug, more)]), loop_figure(facts, book)))
    return save_all(named, folder, formats)


def loop_figure(facts: Facts, book: Facts) -> Figure:
    """Left the pump's and the loop's curves with where they meet; right each element's drop in its shares."""
    rows = [row for row in book["elements"] if row["drop_pa"] > 0]
    figure = new_figure(11, max(3.6, 1.6 + 0.42 * len(rows)))
    left, right = figure.subplots(1, 2, width_ratios=[1, 1.25])
    _meeting(left, book)
    heading(left, "Pump and loop", of_study(facts, book["option"]))
    _drops(right, book, rows)
    heading(right, "Where the head goes", "kPa, share, coolant in → out; in the order of the path")
    return figure


def _meeting(axes: Axes, book: Facts) -> None:
    """Both curves, the loop's with a band of 10 % more and less, and the operating point."""
    quiet_axes(axes)
    pump, curves = book["pump"], book["pump"]["curves"]
    if pump["dead_head_pa"] <= 0:
        axes.annotate(f"{pump['pump']} stands", (0.5, 0.5), xycoords="axes fraction", ha="center", color=ALARM)
        return
    flow = curves["flow_l_per_min"]
    loop = [value / 1e3 for value in curves["loop_pa"]]
    top = 1.15 * pump["dead_head_pa"] / 1e3
    axes.fill_between(flow, [0.9 * p for p in loop], [1.1 * p for p in loop], color=LINES[1], alpha=0.18, linewidth=0)
    axes.plot(flow, [value / 1e3 for value in curves["pump_pa"]], color=LINES[0], linewidth=1.8)
    axes.plot(flow, loop, color=LINES[1], linewidth=1.8, linestyle="--")
    at = pump["flow_l_per_min"], pump["pressure_pa"] / 1e3
    axes.plot(*at, "o", color=INK, markersize=7, markeredgecolor="white", zorder=4)
    axes.annotate(
        f"{at[0]:.2f} L/min, {at[1]:.1f} kPa", at, (10, 8), textcoords="offset points", fontsize=9, color=INK,
        path_effects=outlined("white", 3),
    )  # fmt: skip
    far = int(0.7 * len(flow))
    axes.annotate(
        pump["pump"], (flow[far], curves["pump_pa"][far] / 1e3), (6, 6), textcoords="offset points", fontsize=8.5,
        color=LINES[0], path_effects=outlined("white", 3),
    )  # fmt: skip
    last = next((k for k, p in enumerate(loop) if p > top), len(loop) - 1)
    axes.annotate(
        "loop, ±10 %", (flow[last], min(loop[last], top)), (6, -12), textcoords="offset points", fontsize=8.5,
        color=LINES[1], path_effects=outlined("white", 3), annotation_clip=False,
    )  # fmt: skip
    axes.set_xlim(0, flow[-1])
    axes.set_ylim(0, top)
    axes.set_xlabel("L/min", fontsize=9)
    axes.set_ylabel("kPa", fontsize=9)


def _drops(axes: Axes, book: Facts, rows: list[Facts]) -> None:
    """Stacked bars, the first element on top, with what is beside each in words."""
    quiet_axes(axes)
    axes.grid(False)
    if not rows:
        axes.annotate("nothing flows", (0.5, 0.5), xycoords="axes fraction", ha="center", color=ALARM)
        return
    widest = max(row["drop_pa"] for row in rows) / 1e3
    for k, row in enumerate(rows):
        start = 0.0
        for key, colour in COLOURS.items():
            width = row[key] / 1e3
            axes.barh(k, width, left=start, color=colour, height=0.62, linewidth=0)
            start += width
        share = f", {100 * row['share_of_head']:.0f} %" if row["share_of_head"] is not None else ""
        text = f"{start:.1f}{share}   {row['inlet_degc']:.1f} → {row['outlet_degc']:.1f} °C"
        axes.annotate(text, (start, k), (5, 0), textcoords="offset points", fontsize=8, color=NOTE, va="center")
    axes.set_yticks(range(len(rows)), [_label(book, row) for row in rows], fontsize=8.5)
    for tick, row in zip(axes.get_yticklabels(), rows, strict=True):
        tick.set_color(ALARM if row["regime"] in UNCERTAIN else INK)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(0, 1.55 * widest)
    axes.set_xlabel("kPa", fontsize=9)
    used = [key for key in SHARES if any(row[key] > 0 for row in rows)]
    for key in used:
        axes.barh([0], [0], color=COLOURS[key], label=SHARES[key])
    axes.legend(loc="lower right", fontsize=8, frameon=False, labelcolor=INK)
    axes.spines["left"].set_color(FAINT)


def _label(book: Facts, row: Facts) -> str:
    """An element with its regime, where a duct is known, and its own flow where it lies in a branch."""
    more = [] if row["reynolds"] is None else [f"Re {row['reynolds']:.0f}, {row['regime']}"]
    if in_a_branch(book, row["element"]):
        more.append(f"branch, {row['flow_l_per_min']:.2f} L/min")
    return "\n".join([row["element"], *more])

"""The figure of heat pipes: load against capacity in every state, and what tilt leaves."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermsim.report.figures import FORMATS, save_all
from thermsim.report.pipes_text import in_words
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
    outlined,
    quiet_axes,
)
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Facts = dict[str, Any]
CAPACITY = "#d5dce0"


def save_pipes(facts: Facts, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write the figure as `pipes.png` and `pipes.svg`."""
    return save_all([("pipes", pipes_figure(facts))], folder, formats)


def pipes_figure(facts: Facts) -> Figure:
    """Left a bar a state within the bar of its capacity; right, where a wick is stated, capacity by tilt."""
    told = [(book, pipe) for book in facts["books"] for pipe in book["pipes"]]
    count = sum(len(pipe["states"]) for _, pipe in told)
    tilted = any(pipe["tilt"]["deg"] for _, pipe in told)
    figure = new_figure(11 if tilted else 7, max(3.4, 1.5 + 0.36 * count + 0.3 * len(told)))
    axes = figure.subplots(1, 2 if tilted else 1, squeeze=False, width_ratios=[1.15, 1] if tilted else None)[0]
    _loads(axes[0], told)
    heading(axes[0], "Load and capacity", f"{of_study(facts)}; dotted: with one pipe lost")
    if tilted:
        _tilts(axes[1], told)
        heading(axes[1], "What tilt leaves", "capacity of all pipes; good to a factor of 2")
    return figure


def _loads(axes: Axes, told: Sequence[tuple[Facts, Facts]]) -> None:
    """Grey bars of capacity with the load over them; a tick where the load would have to end for the wanted margin."""
    quiet_axes(axes)
    axes.grid(False)
    place, ticks, labels = 0.0, [], []
    widest = max(max(one["load_w"], one["capacity_w"]) for _, pipe in told for one in pipe["states"].values())
    for book, pipe in told:
        axes.annotate(
            f"{book['option']}: {pipe['count']} × {plain(pipe['name'])}", (0, place - 0.15), (2, 0), va="center",
            textcoords="offset points", fontsize=9, color=INK, fontweight="bold",
        )  # fmt: skip
        for state, one in pipe["states"].items():
            place += 0.8
            short = one["margin"] is not None and one["margin"] < pipe["wanted_margin"]
            colour = ALARM if short else LINES[0]
            axes.barh(place, one["capacity_w"], height=0.62, color=CAPACITY, linewidth=0)
            axes.barh(place, one["load_w"], height=0.26, color=colour, linewidth=0)
            allowed = one["capacity_w"] / pipe["wanted_margin"]
            axes.plot([allowed] * 2, [place - 0.31, place + 0.31], color=INK, linewidth=1.6)
            lost = pipe["lost"][state]["capacity_w"]
            axes.plot([lost] * 2, [place - 0.31, place + 0.31], color=NOTE, linewidth=1.4, linestyle=(0, (1, 1.2)))
            margin = "" if one["margin"] is None else f" ÷ {one['load_w']:.0f} W = {one['margin']:.2f}"
            axes.annotate(
                f"{one['capacity_w']:.0f}{margin}", (max(one["capacity_w"], one["load_w"]), place), (5, 0), va="center",
                textcoords="offset points", fontsize=8, color=colour if short else NOTE,
            )  # fmt: skip
            ticks.append(place)
            labels.append(in_words(book, state))
        place += 1.25
    axes.set_yticks(ticks, labels, fontsize=8.5)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(place - 0.6, -0.7)
    axes.set_xlim(0, 1.35 * widest)
    axes.set_xlabel("W; black tick: the most that keeps the wanted margin", fontsize=9)


def _tilts(axes: Axes, told: Sequence[tuple[Facts, Facts]]) -> None:
    """A curve a table of pipes with its worst load beside it, and a dot where it is now."""
    quiet_axes(axes)
    for k, (book, pipe) in enumerate(told):
        tilt, style = pipe["tilt"], line_style(k)
        if tilt["deg"] is None:
            continue
        load = pipe["states"][pipe["worst_state"]]["load_w"]
        capacity = pipe["states"][pipe["worst_state"]]["capacity_w"]
        axes.plot(tilt["deg"], tilt["capacity_w"], linewidth=1.8, **style)
        if len(told) == 1:
            low, high = ([factor * w for w in tilt["capacity_w"]] for factor in (0.5, 2.0))
            axes.fill_between(tilt["deg"], low, high, color=style["color"], alpha=0.1, linewidth=0)
        axes.axhline(load, color=style["color"], linewidth=1, linestyle=(0, (4, 3)))
        axes.plot(tilt["stated_deg"], capacity, "o", color=style["color"], markersize=6, markeredgecolor="white")
        axes.annotate(
            f"{book['option']}", (tilt["deg"][0], tilt["capacity_w"][0]), (4, 5), textcoords="offset points",
            fontsize=8.5, color=style["color"], path_effects=outlined("white", 3),
        )  # fmt: skip
    loads = [(pipe["states"][pipe["worst_state"]]["load_w"], pipe["worst_state"]) for _, pipe in told]
    most = max(loads)
    axes.annotate(
        f"load in {most[1]}, {most[0]:.0f} W", (90, most[0]), (-2, 5), textcoords="offset points", fontsize=8.5,
        color=NOTE, ha="right", path_effects=outlined("white", 3),
    )  # fmt: skip
    top = max([most[0], *(max(pipe["tilt"]["capacity_w"]) for _, pipe in told if pipe["tilt"]["deg"])])
    axes.axvline(0, color=FAINT, linewidth=0.8)
    axes.set_xlim(-90, 90)
    axes.set_xticks(range(-90, 91, 45), ["−90°\nhot end down", "−45°", "level", "45°", "90°\nhot end up"])
    axes.set_ylim(0, 1.25 * top)
    axes.set_ylabel("W", fontsize=9)

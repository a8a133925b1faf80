"""Figures of a fit: what the model was off by before and after, and the unknowns against what was believed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.bench.fit.answer import shown
from thermsim.report.figures import save_all
from thermsim.report.style import ALARM, FAINT, INK, LINES, NOTE, heading, new_figure, of_study, outlined, quiet_axes
from thermsim.studies.sweep.answer import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Table = dict[str, Any]
BEFORE, AFTER = LINES[5], LINES[0]  # orange and blue: told apart by any eyes, and in grey
MOST_PANELS, ACROSS = 16, 4
ROW_INCHES = 0.42
MINUTE = 60.0


def save_fit(facts: Table, folder: str | Path) -> list[Path]:
    """Write the figures of a fit to a folder; returns their paths."""
    return save_all(_figures(facts), folder)


def _figures(facts: Table) -> Iterator[tuple[str, Figure]]:
    if facts["traces"]:
        yield "fit residuals", residual_figure(facts)
    if facts["unknowns"]:
        yield "fit unknowns", unknown_figure(facts)


def residual_figure(facts: Table) -> Figure:
    """Model less measured over time, a panel a channel: every run before and after the fit, dashed where held out."""
    names = _worst_first(facts)
    shown_names = names[:MOST_PANELS]
    across = min(ACROSS, len(shown_names))
    down = -(-len(shown_names) // across)
    figure = new_figure(11.0, 1.0 + 1.75 * down)
    panels = figure.subplots(down, across, squeeze=False, sharex=True).ravel()
    for axes, name in zip(panels, shown_names, strict=False):
        _residuals(axes, name, [one for one in facts["traces"] if one["channel"] == name])
    for axes in panels[len(shown_names) :]:
        axes.set_visible(False)
    left = f"; {len(names) - MOST_PANELS} channels nearer to the model left out" if len(names) > MOST_PANELS else ""
    figure.suptitle("What the model is off by, before the fit and after", x=0.01, ha="left", fontsize=11,
                    fontweight="bold", color=INK)  # fmt: skip
    figure.supxlabel(
        f"{of_study(facts)}; minutes since switch-on; orange before, blue after, dotted: not shown to the fit{left}",
        fontsize=8.5, color=NOTE, x=0.01, ha="left",
    )  # fmt: skip
    return figure


def _worst_first(facts: Table) -> list[str]:
    """Channels by how far off they were, temperatures only, those held out first."""
    held = [one["channel"] for one in facts["traces"] if one["channel"] == facts["held_out"]["probe"]]
    size: dict[str, float] = {}
    for one in facts["traces"]:
        if not one["channel"].endswith("flow") and one["channel"].split(".")[0] not in ("fan", "pump"):
            size[one["channel"]] = max(size.get(one["channel"], 0.0), float(np.abs(one["before"]).max()))
    return list(dict.fromkeys([*held, *sorted(size, key=lambda name: -size[name])]))


def _residuals(axes: Axes, name: str, traces: Sequence[Table]) -> None:
    quiet_axes(axes)
    axes.axhline(0, color=INK, linewidth=0.7)
    for one in traces:
        minutes = np.array(one["time_s"]) / MINUTE
        style: Any = (0, (1.5, 1.2)) if one["held"] else "-"
        axes.plot(minutes, one["before"], color=BEFORE, linewidth=1.0, linestyle=style)
        axes.plot(minutes, one["after"], color=AFTER, linewidth=1.2, linestyle=style, zorder=3)
    axes.set_title(f"{plain(name)}, K", loc="left", fontsize=8.5, color=INK)


def unknown_figure(facts: Table) -> Figure:
    """Each unknown over what the case said: what was believed, what was found, the bounds it rests on."""
    told = facts["unknowns"]
    figure = new_figure(9.5, 1.3 + ROW_INCHES * len(told))
    axes = figure.subplots()
    quiet_axes(axes, "x")
    for place, one in enumerate(told):
        _bar(axes, place, one)
    axes.set_yticks(range(len(told)), [plain(one["name"]) for one in told], fontsize=8.5)
    axes.invert_yaxis()
    axes.axvline(100, color=INK, linewidth=0.8)
    axes.use_sticky_edges = False
    axes.margins(x=0.12)
    axes.set_ylim(len(told) - 0.4, -0.7)
    axes.set_xlabel("% of the case's value", fontsize=10)
    heading(axes, "What was matched", f"{of_study(facts)}; grey: believed before, blue: matched, each 95 % sure")
    return figure


def _bar(axes: Axes, place: int, one: Table) -> None:
    """All as shares of the case's value; an unknown that is shifted is drawn in its own unit about 100."""
    unit = abs(one["before"]) if one["factor"] is not None else 100.0
    base = 0.0 if one["factor"] is not None else 100.0 - one["before"]

    def at(value: float) -> float:
        return 100 * value / unit + base

    if one["prior_low_95"] is not None:
        low, high = at(one["prior_low_95"]), at(one["prior_high_95"])
        axes.barh(place, high - low, left=low, height=0.56, color="#dfe4e8", edgecolor=FAINT, linewidth=0.5)
    low, high = at(one["low_95"]), at(one["high_95"])
    colour = ALARM if one["bound_hit"] else AFTER
    axes.plot([low, high], [place, place], color=colour, linewidth=3.2, solid_capstyle="butt")
    axes.plot(at(one["value"]), place, "o", color=colour, markersize=6, markeredgecolor="white")
    text = shown(one, one["value"]) + (f", at its {one['bound_hit']} bound" if one["bound_hit"] else "")
    axes.annotate(text, (high, place), (6, 0), textcoords="offset points", va="center", fontsize=8, color=INK,
                  path_effects=outlined("white", 3))  # fmt: skip

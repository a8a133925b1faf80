"""The figure of a chill study: parts and noise against the inlet's temperature."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.report.curves import EndLabel, family, label_ends
from thermsim.report.figures import FORMATS, save_all
from thermsim.report.style import (
    ALARM,
    COOLANT,
    FAINT,
    INK,
    NOTE,
    heading,
    line_style,
    new_figure,
    of_study,
    outlined,
    quiet_axes,
)
from thermsim.studies.chill.answer import best_liquid
from thermsim.studies.chill.equivalent import highest_where
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Facts = dict[str, Any]
WET, DAMP = "#bcd9ea", "#e3eff6"  # bands of inlets that sweat, and that come within the margin
PARTS_HEIGHT, NOISE_HEIGHT = 3.5, 2.1  # inches


def save_chill(facts: Facts, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write the figure as `chill.png` and `chill.svg`."""
    return save_all([("chill", chill_figure(facts))], folder, formats)


def chill_figure(facts: Facts) -> Figure:
    """The hottest of each family of parts with speeds frozen, then with governors live; below them the noise."""
    courses = {"Parts by inlet, speed frozen" if facts["governed"] else "Parts by inlet": facts["frozen"]}
    if facts["governed"]:
        courses["Parts by inlet, governor live"] = facts["live"]
    noisy = facts["live"]["with_room_dba"][0] is not None
    heights = [PARTS_HEIGHT] * len(courses) + [NOISE_HEIGHT] * noisy
    figure = new_figure(9.5, 0.6 + sum(heights))
    grid = figure.subplots(len(heights), 1, sharex=True, squeeze=False, height_ratios=heights)[:, 0]
    shown = _shown(facts)
    bounds = _bounds(facts, shown)
    for axes, (title, course) in zip(grid, courses.items(), strict=False):
        _bands(axes, facts)
        axes.set_ylim(*bounds)
        _parts(axes, facts, course, shown)
        heading(axes, title, _note(facts) if axes is grid[0] else "")
    if noisy:
        _noise(grid[-1], facts)
    grid[-1].set_xlim(facts["inlets_degc"][0], facts["inlets_degc"][-1])
    grid[-1].set_xlabel(f"inlet of airway {plain(facts['airway'])}, °C", fontsize=9)
    return figure


def _shown(facts: Facts) -> list[str]:
    """Of like parts the hottest; the one nearest its limit always."""
    stems: dict[str, list[str]] = {}
    base = facts["base"]["parts_degc"]
    for name in base:
        stems.setdefault(family(name), []).append(name)
    hottest = [max(names, key=lambda name: base[name]) for names in stems.values()]
    worst = facts["base"]["worst_part"]
    return hottest if worst is None or worst in hottest else [*hottest, worst]


def _bounds(facts: Facts, shown: list[str]) -> tuple[float, float]:
    """One scale for all panels, liquid levels and near limits in view."""
    option = best_liquid(facts)
    values = [degc for key in ("frozen", "live") for name in shown for degc in facts[key]["parts_degc"][name]]
    values += [option["parts_degc"][name] for name in shown if option and name in option["parts_degc"]]
    low, high = min(values), max(values)
    limits = [facts["limits_degc"][name] for name in shown if name in facts["limits_degc"]]
    high = max([high, *(limit for limit in limits if limit < high + 0.25 * (high - low))])
    return low - 0.06 * (high - low), high + 0.06 * (high - low)


def _note(facts: Facts) -> str:
    option = best_liquid(facts)
    ticks = f"; ticks at the left: {option['option']}" if option else ""
    return f"{of_study(facts, facts['option'] or 'base case')}; dashes at the right: limits, met at dots{ticks}"


def _bands(axes: Axes, facts: Facts) -> None:
    """Inlets at which something sweats, or comes too near it; the room's temperature."""
    quiet_axes(axes)
    dew, room, left = facts["dew_point_degc"], facts["room_degc"], facts["inlets_degc"][0]
    right = facts["inlets_degc"][-1]
    if dew is not None and dew > left:
        axes.axvspan(left, min(dew, right), color=WET, linewidth=0, zorder=0, gid="wet")
    if dew is not None and dew + facts["dew_margin_k"] > left:
        damp = min(dew + facts["dew_margin_k"], right)
        axes.axvspan(max(dew, left), damp, color=DAMP, linewidth=0, zorder=0, gid="damp")
        _upright(axes, min(max(dew, left), right), f"dew point {dew:.1f}")
    axes.axvline(room, color=FAINT, linewidth=1, zorder=1, gid="room")
    _upright(axes, room, f"room {room:g}")


def _upright(axes: Axes, inlet: float, text: str) -> None:
    axes.annotate(
        text, (inlet, 0), (3, 4), xycoords=("data", "axes fraction"), textcoords="offset points", fontsize=8,
        color=NOTE, rotation=90, va="bottom", path_effects=outlined("white", 3),
    )  # fmt: skip


def _parts(axes: Axes, facts: Facts, course: Facts, shown: list[str]) -> None:
    """Curves, short dashes for limits at the right, ticks for the best liquid option at the left."""
    option, labels = best_liquid(facts), []
    low, high = axes.get_ylim()
    for k, name in enumerate(shown):
        style, degc = line_style(k), course["parts_degc"][name]
        axes.plot(facts["inlets_degc"], degc, linewidth=1.6, **style)
        limit = facts["limits_degc"].get(name)
        if limit is not None and low < limit < high:
            axes.plot(
                [0.965, 1.0], [limit, limit], transform=axes.get_yaxis_transform(), color=style["color"],
                linewidth=2.4, linestyle=(0, (2, 0.8)),
            )  # fmt: skip
            _crossing(axes, facts, degc, limit, style["color"])
        if option and name in option["parts_degc"]:
            level = option["parts_degc"][name]
            axes.plot(
                [0.0, 0.022], [level, level], transform=axes.get_yaxis_transform(), color=style["color"], linewidth=2.4,
            )  # fmt: skip
        bound = "" if limit is None else f" (limit {limit:g})"
        labels.append(EndLabel(f"{plain(name)} {degc[-1]:.1f}{bound}", degc[-1], style["color"]))
    axes.set_ylabel("°C", fontsize=9)
    label_ends(axes, labels, height=200.0)


def _crossing(axes: Axes, facts: Facts, degc: list[float], limit: float, colour: str) -> None:
    """A dot where a part comes to its limit, with that inlet."""
    inlets = np.array(facts["inlets_degc"])
    inlet = highest_where(inlets, [np.array(degc) - limit])
    if inlet is None or inlet == inlets[-1]:
        return
    axes.plot(inlet, limit, "o", color=colour, markersize=5.5, markeredgecolor="white", zorder=4)
    axes.annotate(
        f"{inlet:.1f}", (inlet, limit), (0, 6), textcoords="offset points", fontsize=8, color=colour, ha="center",
        path_effects=outlined("white", 3),
    )  # fmt: skip


def _noise(axes: Axes, facts: Facts) -> None:
    """With the room: live, frozen, the must-have, and the liquid options' levels as ticks."""
    _bands(axes, facts)
    live, still = facts["live"]["with_room_dba"], facts["frozen"]["with_room_dba"]
    labels = [EndLabel(f"{'live' if facts['governed'] else 'fans'} {live[-1]:.1f}", live[-1], INK)]
    axes.plot(facts["inlets_degc"], live, color=INK, linewidth=1.6)
    if facts["governed"]:
        axes.plot(facts["inlets_degc"], still, color=FAINT, linewidth=1.4, linestyle="--")
        labels.append(EndLabel(f"frozen {still[-1]:.1f}", still[-1], FAINT))
    levels = [*live, *still]
    if facts["quiet_limit_dba"] is not None:
        limit = facts["quiet_limit_dba"]
        axes.axhline(limit, color=ALARM, linewidth=1, linestyle=(0, (4, 3)))
        labels.append(EndLabel(f"at most {limit:g}", limit, ALARM))
        levels.append(limit)
    option = best_liquid(facts)
    if option and option["with_room_dba"] is not None:
        level = option["with_room_dba"]
        axes.plot([0.0, 0.022], [level, level], transform=axes.get_yaxis_transform(), color=COOLANT, linewidth=3)
        levels.append(level)
    axes.set_ylim(0, 1.12 * max(levels))
    axes.set_ylabel("dB(A) with the room", fontsize=9)
    label_ends(axes, labels, height=120.0)

"""Figures of a sweep: tornado, spread of the outputs against their limits, one input's lines."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermsim.report.curves import EndLabel, label_ends
from thermsim.report.figures import save_all
from thermsim.report.style import ALARM, FAINT, INK, LINES, NOTE, heading, line_style, new_figure, outlined, quiet_axes
from thermsim.report.sweep_text import parts_of_interest
from thermsim.studies.sweep.answer import plain, shown, width

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Table = dict[str, Any]
LOW, HIGH = LINES[4], LINES[1]  # pale blue and vermilion: told apart by any eyes, and in grey
MOST_BARS = 12
MOST_SPREADS, ENOUGH_SPREADS = 12, 8
HEAD_INCHES = 0.5
ROW_INCHES = 0.34


def save_sweep(facts: Table, folder: str | Path) -> list[Path]:
    """Write the figures of a sweep to a folder; returns their paths."""
    return save_all(_figures(facts), folder)


def _figures(facts: Table) -> Iterator[tuple[str, Figure]]:
    if facts["tornado"] and facts["tornado"]["rows"] and facts["tornado"]["outputs"]:
        yield "sweep tornado", tornado_figure(facts)
    if facts["samples"] and facts["samples"]["outputs"]:
        yield "sweep samples", samples_figure(facts)
    if facts["one"] and any("failed" not in state for state in facts["one"]["states"]):
        yield "sweep one", line_figure(facts)


def _whose(facts: Table) -> str:
    return f"{facts['title']}; {facts['option'] or 'base case'}"


def tornado_figure(facts: Table) -> Figure:
    """What each input's low and high end does to the worst part, and to the noise if it moves."""
    tornado = facts["tornado"]
    names = [one["name"] for one in tornado["outputs"]]
    lead = f"part.{tornado['worst_part']}" if tornado["worst_part"] else names[0]
    moves_noise = "noise" in names and any(width(row, "noise") > 0 for row in tornado["rows"])
    asked = [lead, *(["noise"] if moves_noise else [])]
    bars = min(MOST_BARS, len(tornado["rows"]))
    figure = new_figure(11.0, 1.5 + ROW_INCHES * bars)
    panels = figure.subplots(1, len(asked), squeeze=False)[0]
    about = {one["name"]: one for one in facts["inputs"]}
    for axes, name in zip(panels, asked, strict=True):
        _bars(axes, tornado, name, about)
    spreads = "spreads assumed" if any(one["assumed"] for one in facts["inputs"]) else "spreads as the case states them"
    heading(panels[0], "What each input does by itself", f"{_whose(facts)}; {spreads}")
    return figure


def _bars(axes: Axes, tornado: Table, name: str, about: Table) -> None:
    rows = sorted(tornado["rows"], key=lambda row: -width(row, name))[:MOST_BARS]
    quiet_axes(axes, "x")
    for place, row in enumerate(rows):
        for end, key, colour in zip(row["effects"][name], ("low", "high"), (LOW, HIGH), strict=True):
            axes.barh(place, end, height=0.62, color=colour, edgecolor=INK, linewidth=0.4)
            told = shown(about[row["input"]][key], about[row["input"]]["dimension"])
            axes.annotate(
                told, (end, place), (4 if end >= 0 else -4, 0), textcoords="offset points", fontsize=7.5, color=NOTE,
                ha="left" if end >= 0 else "right", va="center",
            )  # fmt: skip
    axes.set_yticks(range(len(rows)), [plain(row["input"]) for row in rows], fontsize=8.5)
    axes.invert_yaxis()
    axes.axvline(0, color=INK, linewidth=0.8)
    axes.margins(x=0.32)
    nominal = next(one["nominal"] for one in tornado["outputs"] if one["name"] == name)
    unit, step = ("dB(A)", "dB") if name == "noise" else ("°C", "K")
    axes.set_xlabel(f"{plain(name)}: change from {nominal:.1f} {unit}, {step}", fontsize=10)


def samples_figure(facts: Table) -> Figure:
    """Spread of each output that has a limit over all samples, those most often broken first."""
    samples = facts["samples"]
    judged = {name: one for name, one in samples["outputs"].items() if one["limit"] is not None}
    order = sorted(judged, key=lambda name: (judged[name]["pass_probability"], _room(judged[name])))[:MOST_SPREADS]
    broken = sum(judged[name]["pass_probability"] < 1 for name in order)
    order = order[: max(broken, ENOUGH_SPREADS)] or list(samples["outputs"])[:ENOUGH_SPREADS]
    columns = min(4, len(order))
    rows = -(-len(order) // columns)
    figure = new_figure(11.0, 0.9 + 1.9 * rows)
    panels = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, name in zip(panels, order, strict=False):
        _spread(axes, name, samples["outputs"][name])
    for axes in panels[len(order) :]:
        axes.set_visible(False)
    note = f"{_whose(facts)}; {samples['count']} samples"
    if samples["all_pass_probability"] is not None:
        note += f", all limits kept together in {100 * samples['all_pass_probability']:.0f} %; red: broken"
    engine = figure.get_layout_engine()
    assert engine is not None
    engine.set(rect=(0, 0, 1, 1 - HEAD_INCHES / figure.get_figheight()))  # type: ignore[call-arg]
    figure.text(0.01, 0.99, "How sure it is", va="top", fontsize=11, fontweight="bold", color=INK)
    figure.text(0.01, 0.99 - 0.24 / figure.get_figheight(), note, va="top", fontsize=8.5, color=NOTE)
    return figure


def _room(one: Table) -> float:
    """How many standard deviations the middle is from the limit."""
    return float(abs(one["limit"] - one["p50"]) / max(one["sd"], 1e-9))


def _spread(axes: Axes, name: str, one: Table) -> None:
    quiet_axes(axes)
    axes.spines["left"].set_visible(False)
    axes.grid(False, axis="y")
    axes.set_yticks([])
    edges, counts, limit = one["histogram"]["edges"], one["histogram"]["counts"], one["limit"]
    for low, high, count in zip(edges[:-1], edges[1:], counts, strict=True):
        middle = (low + high) / 2
        is_broken = limit is not None and (middle > limit if one["limit_is"] == "at most" else middle < limit)
        axes.bar(low, count, width=high - low, align="edge", color=ALARM if is_broken else FAINT, linewidth=0)
    unit = {"degC": "°C", "m3/h": "m³/h"}.get(one["unit"], one["unit"])
    if limit is None:
        axes.set_title(f"{plain(name)}, {unit}", loc="left", fontsize=9, color=INK)
        return
    kept = f"kept in {100 * one['pass_probability']:.0f} %"
    axes.set_title(f"{plain(name)}, {unit}: {kept}", loc="left", fontsize=9, color=INK)
    low, high = edges[0], edges[-1]
    span = high - low
    if low - 0.6 * span < limit < high + 0.6 * span:
        axes.axvline(limit, color=INK, linewidth=1.1, linestyle=(0, (4, 2)))
    side = "right" if limit > high else "left"
    note = f"{one['limit_is']} {limit:g}"
    axes.annotate(
        note, (0.99 if side == "right" else 0.01, 0.97), xycoords="axes fraction", ha=side, va="top", fontsize=8,
        color=INK, path_effects=outlined("white", 3),
    )  # fmt: skip


def line_figure(facts: Table) -> Figure:
    """Temperatures, worst margin and noise along one input, and where limits are crossed."""
    one = facts["one"]
    told = [(value, state) for value, state in zip(one["values"], one["states"], strict=True) if "failed" not in state]
    scale, unit = _scale(one)
    x = [value * scale for value, _ in told]
    levels = [state["with_room_dba"] for _, state in told]
    has_noise = None not in levels and max(levels) - min(levels) > 0.05
    figure = new_figure(11.0, 7.2 if has_noise else 5.2)
    panels = figure.subplots(
        3 if has_noise else 2, 1, sharex=True, height_ratios=(3, 1.6, 1.2)[: 3 if has_noise else 2]
    )
    labels = []
    for k, name in enumerate(parts_of_interest(one, [state for _, state in told])):
        style, values = line_style(k), [state["parts_degc"][name] for _, state in told]
        panels[0].plot(x, values, linewidth=1.5, marker="o", markersize=3, **style)
        labels.append(EndLabel(f"{plain(name)} {values[-1]:.1f}", values[-1], style["color"]))
    panels[0].set_ylabel("temperature, °C")
    margins = [state["worst_margin_k"] for _, state in told]
    if None not in margins:
        panels[1].plot(x, margins, color=INK, linewidth=1.5, marker="o", markersize=3)
        panels[1].axhline(0, color=ALARM, linewidth=1, linestyle=(0, (4, 3)))
    panels[1].set_ylabel("worst margin, K")
    if has_noise:
        panels[2].plot(x, levels, color=INK, linewidth=1.5, marker="o", markersize=3)
        panels[2].set_ylabel("noise, dB(A)")
    for axes in panels:
        quiet_axes(axes)
        for crossing in one["crossings"]:
            axes.axvline(crossing["at"] * scale, color=ALARM, linewidth=0.8, linestyle=(0, (2, 2)))
    for crossing in one["crossings"]:
        verb = "broken" if crossing["is_broken_beyond"] else "kept"
        panels[1].annotate(
            f"{plain(crossing['name'])} {verb}", (crossing["at"] * scale, 0.04), (2, 0), rotation=90, fontsize=7.5,
            xycoords=("data", "axes fraction"), textcoords="offset points", color=ALARM, va="bottom",
        )  # fmt: skip
    panels[-1].set_xlabel(f"{one['of']}, {unit}" if unit else one["of"])
    label_ends(panels[0], labels)
    heading(panels[0], f"What {plain(one['of'])} does", f"{_whose(facts)}; dotted: where a limit is crossed")
    return figure


def _scale(one: Table) -> tuple[float, str]:
    """Factor from the values to what the axis shows, and its unit."""
    if one["dimension"] == "factor":
        return 100.0, "% of the case's value"
    if one["dimension"] is None:
        return 1.0, ""
    from thermsim import units

    largest = max(one["values"], key=abs)
    text = units.format_quantity(largest, one["dimension"])
    number, unit = text.split(" ", 1)
    return (1.0, unit) if one["dimension"] == "temperature" or not largest else (float(number) / largest, unit)

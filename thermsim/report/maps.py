"""Hotspot maps: temperature of a sheet or plate in plan view, with what sits on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.report.labels import Label, place_labels
from thermsim.report.plan import Rect, outlines, plates_over
from thermsim.report.style import COOLANT, INK, heading, heat_map, kind_of, new_figure, outlined, quiet_axes, whose
from thermsim.store.result import Result, SheetField
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.cm import ScalarMappable
    from matplotlib.figure import Figure

MM = 1e3


def hotspot_map(
    result: Result, address: str, time: float | None = None, limits: tuple[float, float] | None = None
) -> Figure:
    """One sheet or plate (`sheet.board`, `plate.main`) at the frame nearest to `time`, s (default: the last).

    `limits`: ends of the colour scale, °C (default: the coldest and hottest cell). Raises KeyError if the
    result has no such sheet.
    """
    field = result.fields[address]
    frame = frame_at(field, time)
    figure = new_figure(9.0, 1.4 + 7.4 * _aspect(field))
    axes = figure.subplots()
    mesh = _draw(axes, result, field, frame, limits or field_range([field.temperature[frame]]))
    heading(axes, f"{sheet_name(address)} at {_clock(field.time[frame])}", _subtitle(result))
    axes.set_xlabel("x, mm")
    axes.set_ylabel("y, mm")
    _colour_bar(figure, mesh, [axes])
    _finish(figure, [(axes, result, field, frame)])
    return figure


def map_page(result: Result, time: float | None = None) -> Figure:
    """All sheets and plates of a result on one colour scale."""
    fields = list(result.fields.values())
    frames = [frame_at(field, time) for field in fields]
    limits = field_range([field.temperature[frame] for field, frame in zip(fields, frames, strict=True)])
    panels = [(sheet_name(field.address), result, field, frame) for field, frame in zip(fields, frames, strict=True)]
    when = _clock(fields[0].time[frames[0]])
    return _grid(panels, limits, f"All sheets at {when}, one scale", _subtitle(result))


def compare_maps(results: Mapping[str, Result], address: str, time: float | None = None) -> Figure:
    """The same sheet under several options, side by side on one colour scale.

    Options without it are left out; raises KeyError if none has it.
    """
    shown = {name: result for name, result in results.items() if address in result.fields}
    if not shown:
        raise KeyError(address)
    fields = {name: result.fields[address] for name, result in shown.items()}
    frames = {name: frame_at(field, time) for name, field in fields.items()}
    limits = field_range([fields[name].temperature[frames[name]] for name in shown])
    panels = [
        (f"{name}: up to {hottest(fields[name], frames[name])[2]:.1f} °C", result, fields[name], frames[name])
        for name, result in shown.items()
    ]
    when = "at the end of each run" if time is None else f"at {_clock(time)}"
    return _grid(panels, limits, f"{sheet_name(address)} {when}, one scale for all {kind_of(shown.values())}", "")


def frame_at(field: SheetField, time: float | None) -> int:
    """Index of the frame nearest to a time, s; the last for None."""
    return field.time.size - 1 if time is None else int(np.abs(field.time - time).argmin())


def field_range(frames: Sequence[Floats]) -> tuple[float, float]:
    """Coldest and hottest cell of several frames, °C, at least 0.1 K apart."""
    low, high = min(np.nanmin(f) for f in frames), max(np.nanmax(f) for f in frames)
    short = max(0.0, 0.1 - (high - low)) / 2
    return float(low - short), float(high + short)


Panel = tuple[str, Result, SheetField, int]


def _grid(panels: Sequence[Panel], limits: tuple[float, float], title: str, note: str) -> Figure:
    columns = min(len(panels), 2 if len(panels) <= 4 else 3)
    rows = ceil(len(panels) / columns)
    width = 12.0
    tallest = max(_aspect(field) for _, _, field, _ in panels)
    figure = new_figure(width, 0.9 + rows * (0.5 + (width - 1.6) / columns * tallest), "compressed")
    grid = figure.subplots(rows, columns, squeeze=False)
    drawn = []
    mesh = None
    for axes, (name, result, field, frame) in zip(grid.flat, panels, strict=False):
        mesh = _draw(axes, result, field, frame, limits)
        axes.set_anchor("NW")
        axes.set_title(name, loc="left", fontsize=9.5, color=INK, fontweight="bold")
        drawn.append((axes, result, field, frame))
    for axes in grid.flat[len(panels) :]:
        axes.set_axis_off()
    for axes in grid[:, 0]:
        axes.set_ylabel("y, mm", fontsize=8)
    for axes in grid.flat[max(len(panels) - columns, 0) : len(panels)]:
        axes.set_xlabel("x, mm", fontsize=8)
    figure.suptitle(title + (f"\n{note}" if note else ""), x=0.01, ha="left", fontsize=12, color=INK)
    assert mesh is not None
    _colour_bar(figure, mesh, list(grid.flat))
    _finish(figure, drawn, names=columns < 3)
    return figure


def _draw(axes: Axes, result: Result, field: SheetField, frame: int, limits: tuple[float, float]) -> ScalarMappable:
    """Cells on their true edges, outlines and channels."""
    quiet_axes(axes)
    axes.grid(False)
    axes.set_aspect("equal")
    mesh = axes.pcolormesh(
        field.x_edges * MM, field.y_edges * MM, np.ma.masked_invalid(field.temperature[frame]),
        cmap=heat_map(), vmin=limits[0], vmax=limits[1], shading="flat", rasterized=True,
        gid="cells",
    )  # fmt: skip
    spec = result.case.spec
    for name in plates_over(spec, field.address):
        plate = spec.plate[name]
        (x, y), (width, depth) = plate.corner, plate.size
        rect = x, y, x + width, y + depth
        _outline(axes, rect, colour=COOLANT, linestyle=":", alpha=0.7, gid=f"plate {name}")
        for path in plate.channel.grooves:
            _channel(axes, path, alpha=0.35, width=1.1)
    for outline in outlines(spec, field.address):
        _outline(axes, outline.rect, linestyle="--" if outline.joined else "-", gid=f"part {outline.part}")
    if field.address.startswith("plate."):
        for path in spec.plate[field.address.removeprefix("plate.")].channel.grooves:
            _channel(axes, path)
    return mesh


def _outline(axes: Axes, rect: Rect, colour: str = "white", gid: str = "", **style: Any) -> None:
    from matplotlib.patches import Rectangle

    x0, y0, x1, y1 = (MM * value for value in rect)
    patch = Rectangle(
        (x0, y0), x1 - x0, y1 - y0, fill=False, edgecolor=colour, linewidth=0.9, gid=gid,
        path_effects=outlined("#000000", 1.9), **style,
    )  # fmt: skip
    axes.add_patch(patch)


def _channel(axes: Axes, path: Sequence[tuple[float, float]], alpha: float = 1.0, width: float = 2.0) -> None:
    """The channel, with an arrow on its first leg where the coolant enters."""
    x, y = (MM * np.array(column) for column in zip(*path, strict=True))
    effects = outlined("#10222c", width + 1.2) if alpha == 1.0 else None
    axes.plot(x, y, color=COOLANT, linewidth=width, alpha=alpha, path_effects=effects, label="_channel")
    tail, head = _arrow(path)
    axes.annotate(
        "", head, tail,
        arrowprops={
            "arrowstyle": "-|>", "color": COOLANT, "lw": width, "alpha": alpha, "mutation_scale": 7 * width,
        },
        zorder=5,
    )  # fmt: skip


def _arrow(path: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Tail and head (mm) of the arrow that shows where the coolant enters."""
    (x0, y0), (x1, y1) = ((MM * x, MM * y) for x, y in path[:2])
    leg = float(np.hypot(x1 - x0, y1 - y0))
    reach = min(0.8, 14.0 / leg) if leg else 0.0
    return (x0, y0), (x0 + reach * (x1 - x0), y0 + reach * (y1 - y0))


def _in_mm(rect: Rect) -> Rect:
    return MM * rect[0], MM * rect[1], MM * rect[2], MM * rect[3]


Drawn = tuple["Axes", Result, SheetField, int]


def _finish(figure: Figure, drawn: Sequence[Drawn], names: bool = True) -> None:
    """Fix the layout, then write the labels, whose places depend on it."""
    for axes, _, field, frame in drawn:
        _mark_hottest(axes, field, frame)
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    if not names:
        return
    for axes, result, field, frame in drawn:
        time = float(field.time[frame])
        parts = [
            Label(_part_text(result, outline.part, time), _in_mm(outline.rect))
            for outline in outlines(result.case.spec, field.address)
        ]
        place_labels(axes, [_hottest_label(field, frame), *_inlet_labels(result, field.address), *parts])


def hottest(field: SheetField, frame: int) -> tuple[float, float, float]:
    """Centre (m) and temperature (°C) of the hottest cell."""
    values = field.temperature[frame]
    row, column = np.unravel_index(int(np.nanargmax(values)), values.shape)
    x = (field.x_edges[column] + field.x_edges[column + 1]) / 2
    y = (field.y_edges[row] + field.y_edges[row + 1]) / 2
    return float(x), float(y), float(values[row, column])


def _mark_hottest(axes: Axes, field: SheetField, frame: int) -> None:
    x, y, _ = hottest(field, frame)
    axes.plot(
        MM * x, MM * y, marker="x", markersize=6, markeredgewidth=1.6, color="white", zorder=5,
        label="_hottest", path_effects=outlined("#000000", 3.0),
    )  # fmt: skip


def _hottest_label(field: SheetField, frame: int) -> Label:
    x, y, value = hottest(field, frame)
    half = 0.008 * (field.x_edges[-1] - field.x_edges[0])
    rect = _in_mm((x - half, y - half, x + half, y + half))
    return Label(f"hottest cell {value:.1f} °C", rect, inside=False, bold=True)


def _inlet_labels(result: Result, address: str) -> list[Label]:
    """Where the coolant enters, on a plate."""
    if not address.startswith("plate."):
        return []
    (x0, y0), (x1, y1) = _arrow(result.case.spec.plate[address.removeprefix("plate.")].channel.path)
    rect = min(x0, x1) - 2, min(y0, y1) - 2, max(x0, x1) + 2, max(y0, y1) + 2
    return [Label("coolant in", rect, inside=False)]


def _part_text(result: Result, part: str, time: float) -> str:
    series = result.curves.get("parts", {}).get(part)
    if series is None or not series.time.size:
        return plain(part)
    return f"{plain(part)}\n{np.interp(time, series.time, series.values):.1f}"


def _colour_bar(figure: Figure, mesh: ScalarMappable, axes: Sequence[Axes]) -> None:
    bar = figure.colorbar(mesh, ax=list(axes), shrink=0.9, aspect=32, pad=0.015)
    bar.set_label("temperature, °C", fontsize=9, color=INK)
    bar.ax.tick_params(labelsize=8)
    bar.outline.set_visible(False)


def _aspect(field: SheetField) -> float:
    """Height over width."""
    return float((field.y_edges[-1] - field.y_edges[0]) / (field.x_edges[-1] - field.x_edges[0]))


def sheet_name(address: str) -> str:
    """A sheet or plate in words."""
    kind, name = address.split(".", 1)
    return plain(name) if kind == "sheet" else f"{kind} {plain(name)}"


def _clock(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:g} min"


def _subtitle(result: Result) -> str:
    return f"{whose(result)}. Beside each part: its own temperature, °C"

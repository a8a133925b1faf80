"""Maps of a search for a plate's place: which positions are allowed, the margin at each, the winners on the board.

A position is drawn at the plate's centre; one map for each way the plate lies.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.report.figures import FORMATS, save_all
from thermsim.report.place_board import draw_board, draw_plate, frame
from thermsim.report.style import COOLANT, INK, LINES, NOTE, new_figure, outlined
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

Facts = dict[str, Any]
ALLOWED, OTHER = "#0072b2", "#c9ced2"
MOST_REASONS = 6
MOST_SPAN, LEAST_SPAN = 15.0, 0.1  # K of the margin map
REASON_COLOURS = ("#d55e00", "#e69f00", "#cc79a7", "#56b4e9", "#6e7000", "#6a51a3")


def save_place(facts: Facts, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write `place-allowed`, `place-margin` and `place-winners`; the last two only where a position is allowed."""
    return save_all(_figures(facts), folder, formats)


def _figures(facts: Facts) -> Iterator[tuple[str, Figure]]:
    yield "place-allowed", allowed_map(facts)
    if facts["leaders"]:
        yield "place-margin", margin_map(facts)
        yield "place-winners", winners(facts)


def allowed_map(facts: Facts) -> Figure:
    """Every position: allowed, or what first forbids it."""
    from matplotlib.colors import ListedColormap
    from matplotlib.patches import Patch

    groups = _reason_groups(facts)
    labels = ["allowed", *groups, "other reasons"]
    colours = [ALLOWED, *REASON_COLOURS[: len(groups)], OTHER]
    number = {label: k for k, label in enumerate(labels)}
    figure, grid = _panels(facts, "Where the plate may lie", _size_note(facts))
    seen = set()
    for axes, (turned, positions) in zip(grid, _by_way(facts).items(), strict=True):
        draw_board(axes, facts)
        classes = [number.get(_class(one), len(labels) - 1) for one in positions]
        _raster(axes, facts, positions, classes, ListedColormap(colours), (-0.5, len(labels) - 0.5))
        seen |= set(classes)
        axes.set_title(turned, loc="left", fontsize=9.5, color=INK, fontweight="bold")
    patches = [Patch(color=colours[k], label=labels[k]) for k in sorted(seen)]
    figure.legend(handles=patches, loc="outside lower center", ncols=3, fontsize=8, frameon=False)
    return figure


def margin_map(facts: Facts) -> Figure:
    """Worst margin of every allowed position; the best one ringed. The worse half is one colour."""
    best = facts["leaders"][0]
    note = (
        f"{_size_note(facts)}; ringed: the best, {best['exact_worst_margin_k']:+.1f} K "
        f"({plain(best['exact_worst_part'])})"
    )
    figure, grid = _panels(facts, "Worst margin of any part", note, bar=0.7)
    values = [one["worst_margin_k"] for one in facts["positions"] if one["allowed"]]
    high = max(values)
    low = min(max(float(np.median(values)), high - MOST_SPAN), high - LEAST_SPAN)
    drawn: Any = None
    for axes, (turned, positions) in zip(grid, _by_way(facts).items(), strict=True):
        draw_board(axes, facts)
        margins = [one["worst_margin_k"] if one["allowed"] else np.nan for one in positions]
        drawn = _raster(axes, facts, positions, margins, margin_colours(), (low, high))
        if any(one["rotation_deg"] == best["rotation_deg"] for one in positions):
            x, y = _centre(facts, best)
            axes.plot(
                x, y, "o", markersize=11, markerfacecolor="none", markeredgecolor="white", markeredgewidth=1.8,
                zorder=5, path_effects=outlined("black", 3.4),
            )  # fmt: skip
        axes.set_title(turned, loc="left", fontsize=9.5, color=INK, fontweight="bold")
    extend = "min" if min(values) < low else "neither"
    bar = figure.colorbar(drawn, ax=list(grid), shrink=0.9, aspect=28, pad=0.015, extend=extend)
    bar.set_label("worst margin, K", fontsize=9, color=INK)
    bar.ax.tick_params(labelsize=8)
    bar.outline.set_visible(False)
    return figure


def winners(facts: Facts) -> Figure:
    """The best single plate and the best pair on the board, with channels and the straight stretch of each hose."""
    best = facts["leaders"][0]
    chosen = [("One plate", best["exact_worst_margin_k"], [best])]
    for name, told in facts["pairs"].items():
        pair = told["best"]
        if pair is not None:
            chosen.append((f"Two in {name}", pair["exact_worst_margin_k"], [pair["first"], pair["second"]]))
    figure, grid = _panels(facts, "The best places", _size_note(facts), len(chosen))
    for axes, (title, margin, plates) in zip(grid, chosen, strict=True):
        draw_board(axes, facts, names=True)
        for n, plate in enumerate(plates):
            number = f"{n + 1}" if len(plates) > 1 else ""
            first = n == 0 and title == "Two in series"
            draw_plate(axes, plate, LINES[2 * n], f"{number}, coolant first" if first else number)
        if len(plates) == 1 and facts["layouts"]:
            told = facts["layouts"][0]
            for path in [told["path_mm"], *told["beside_mm"]]:
                axes.plot(
                    *zip(*path, strict=True),
                    color=COOLANT,
                    linewidth=1.4,
                    path_effects=outlined("#10222c", 2.4),
                    zorder=4,
                )
        axes.set_title(f"{title}: {margin:+.1f} K", loc="left", fontsize=9.5, color=INK, fontweight="bold")
    return figure


def margin_colours() -> Colormap:
    """Even steps of lightness, brighter is more margin; told apart by colour-blind eyes."""
    from matplotlib import colormaps

    return colormaps["cividis"]


def _size_note(facts: Facts) -> str:
    width, depth = facts["plate_size_mm"]
    return (
        f"{plain(facts['plate'].removeprefix('plate.'))} plate of {width:g} x {depth:g} mm, each square its centre, "
        f"every {facts['pitch_mm']:g} mm"
    )


def _ways() -> tuple[str, str]:
    return "as drawn, or turned by 180°", "turned by 90° or 270°"


def _by_way(facts: Facts) -> dict[str, list[Facts]]:
    """Positions by how the plate lies; a way that has none is left out."""
    found: dict[str, list[Facts]] = {way: [] for way in _ways()}
    for one in facts["positions"]:
        found[_ways()[one["rotation_deg"] % 180 // 90]].append(one)
    return {way: positions for way, positions in found.items() if positions}


def _panels(
    facts: Facts, title: str, note: str, count: int | None = None, bar: float = 0.0
) -> tuple[Figure, list[Axes]]:
    """Axes for each way the plate lies (or `count`), two in a row; `bar`: inches kept for a colour bar."""
    count = count or len(_by_way(facts))
    left, front, right, back = frame(facts)
    columns = min(count, 2)
    rows = -(-count // columns)
    width = 10.5 if columns > 1 else 7.0
    height = rows * ((width - bar) / columns * 0.92 * (back - front) / (right - left) + 0.5) + 1.0
    figure = new_figure(width, height)
    grid = figure.subplots(rows, columns, squeeze=False)
    for axes in grid.flat[count:]:
        axes.set_axis_off()
    for axes in grid[:, 0]:
        axes.set_ylabel("y, mm", fontsize=8)
    for axes in grid.flat[max(count - columns, 0) : count]:
        axes.set_xlabel("x, mm", fontsize=8)
    figure.suptitle(f"{title}\n\n", x=0.01, ha="left", fontsize=12, color=INK, fontweight="bold")
    figure.text(0.01, 1 - 0.42 / height, note, ha="left", va="center", fontsize=8.5, color=NOTE)
    return figure, list(grid.flat[:count])


def _reason_groups(facts: Facts) -> list[str]:
    """The reasons that most often come first, of which each has its colour."""
    counts: dict[str, int] = {}
    for one in facts["positions"]:
        if one["why"]:
            group = reason_group(one["why"][0])
            counts[group] = counts.get(group, 0) + 1
    return sorted(counts, key=lambda group: -counts[group])[:MOST_REASONS]


def reason_group(why: str) -> str:
    """A reason without the name of the part or screw it is about."""
    for start in ("would rest on the rim of", "gap over", "its rim cuts the ring of", "the hole for screw"):
        if why.startswith(start):
            return {
                "would rest on the rim of": "would rest on a part's rim", "gap over": "gap too small for a pad",
                "its rim cuts the ring of": "its rim cuts a screw's ring",
                "the hole for screw": "a screw's hole too near to the channel",
            }[start]  # fmt: skip
    if " hose: " in why:
        return "a hose cannot leave"
    return "a part carries something" if " stands on " in why else why


def _class(one: Facts) -> str:
    """What the map of allowed positions shows of one."""
    return "allowed" if one["allowed"] else reason_group(one["why"][0])


def _centre(facts: Facts, one: Facts) -> tuple[float, float]:
    """Centre of the plate at a position, mm."""
    width, depth = facts["plate_size_mm"] if one["rotation_deg"] % 180 == 0 else facts["plate_size_mm"][::-1]
    return one["x_mm"] + width / 2, one["y_mm"] + depth / 2


def _raster(
    axes: Axes, facts: Facts, positions: list[Facts], values: Sequence[float], colours: Colormap,
    limits: tuple[float, float],
) -> ScalarMappable:  # fmt: skip
    """One square a position, as wide as the pitch."""
    pitch = facts["pitch_mm"]
    centres = np.array([_centre(facts, one) for one in positions])
    low = centres.min(axis=0)
    column, row = np.rint((centres - low) / pitch).astype(int).T
    shown = np.full((row.max() + 1, column.max() + 1), np.nan)
    shown[row, column] = values
    x, y = (low[k] + pitch * (np.arange(count + 1) - 0.5) for k, count in ((0, shown.shape[1]), (1, shown.shape[0])))
    mesh = axes.pcolormesh(
        x, y, np.ma.masked_invalid(shown), cmap=colours, vmin=limits[0], vmax=limits[1], rasterized=True, zorder=2,
    )  # fmt: skip
    return mesh

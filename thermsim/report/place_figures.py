"""Maps of a search for a plate's place: which positions are allowed, the margin at each, the winners on the board.

A position is drawn at the plate's centre; one map for each way the plate lies.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from thermsim.report.figures import FORMATS, image
from thermsim.report.style import ALARM, COOLANT, FAINT, INK, LINES, NOTE, new_figure, outlined, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

Facts = dict[str, Any]
ALLOWED, OTHER = "#0072b2", "#c9ced2"
MOST_REASONS = 6
REASON_COLOURS = ("#d55e00", "#e69f00", "#cc79a7", "#56b4e9", "#6e7000", "#6a51a3")


def save_place(facts: Facts, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write `place-allowed`, `place-margin` and `place-winners`; the last two only where a position is allowed."""
    written = []
    for name, figure in _figures(facts):
        for kind in formats:
            path = Path(folder) / f"place-{name}.{kind}"
            path.write_bytes(image(figure, kind))
            written.append(path)
    return written


def _figures(facts: Facts) -> Iterator[tuple[str, Figure]]:
    yield "allowed", allowed_map(facts)
    if facts["leaders"]:
        yield "margin", margin_map(facts)
        yield "winners", winners(facts)


def allowed_map(facts: Facts) -> Figure:
    """Every position: allowed, or what most often forbids it."""
    groups = _reason_groups(facts)
    figure, grid = _panels(facts, "Where the plate may lie", _size_note(facts))
    for axes, (turned, positions) in zip(grid, _by_way(facts).items(), strict=True):
        _board(axes, facts)
        for label, colour, members in _classes(positions, groups):
            x, y = _centres(facts, members)
            axes.scatter(x, y, s=_marker(facts), marker="s", color=colour, linewidths=0, label=label, zorder=2)
        axes.set_title(turned, loc="left", fontsize=9.5, color=INK, fontweight="bold")
    handles = {label: handle for axes in grid for handle, label in zip(*axes.get_legend_handles_labels(), strict=True)}
    order = [label for label in ("allowed", *groups, "other reasons") if label in handles]
    figure.legend(
        [handles[label] for label in order], order, loc="outside lower center", ncols=3, fontsize=8, frameon=False,
        markerscale=2.5,
    )  # fmt: skip
    return figure


def margin_map(facts: Facts) -> Figure:
    """Worst margin of every allowed position, the winner marked."""
    best = facts["leaders"][0]
    note = f"{_size_note(facts)}; ringed: the best, {best['exact_worst_margin_k']:+.1f} K ({plain(best['exact_worst_part'])})"
    figure, grid = _panels(facts, "Worst margin of any part, K", note)
    values = [one["worst_margin_k"] for one in facts["positions"] if one["allowed"]]
    low, high = float(np.percentile(values, 5)), max(values)
    drawn: Any = None
    for axes, (turned, positions) in zip(grid, _by_way(facts).items(), strict=True):
        _board(axes, facts)
        allowed = [one for one in positions if one["allowed"]]
        x, y = _centres(facts, allowed)
        margins = [one["worst_margin_k"] for one in allowed]
        drawn = axes.scatter(
            x, y, c=margins, s=_marker(facts), marker="s", cmap=margin_colours(), vmin=low, vmax=max(high, low + 0.1),
            linewidths=0, zorder=2,
        )  # fmt: skip
        if best["rotation_deg"] % 180 == (0 if turned == _ways()[0] else 90):
            centre = _centre(best, best["outline_mm"])
            axes.plot(
                *centre, "o", markersize=11, markerfacecolor="none", markeredgecolor=INK, markeredgewidth=1.6, zorder=5
            )
        axes.set_title(turned, loc="left", fontsize=9.5, color=INK, fontweight="bold")
    bar = figure.colorbar(drawn, ax=list(grid), shrink=0.9, aspect=32, pad=0.015, extend="min")
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
        _board(axes, facts, names=True)
        for n, plate in enumerate(plates):
            _plate(axes, plate, n + 1 if len(plates) > 1 else None)
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


def _panels(facts: Facts, title: str, note: str, count: int | None = None) -> tuple[Figure, list[Axes]]:
    count = count or len(_by_way(facts))
    left, front, right, back = _frame(facts)
    columns = min(count, 2)
    rows = -(-count // columns)
    width = 10.5
    height = rows * (width / columns * (back - front) / (right - left) + 0.35) + 1.15
    figure = new_figure(width, height)
    grid = figure.subplots(rows, columns, squeeze=False)
    for axes in grid.flat[count:]:
        axes.set_axis_off()
    for axes in grid[:, 0]:
        axes.set_ylabel("y, mm", fontsize=8)
    for axes in grid.flat[max(count - columns, 0) : count]:
        axes.set_xlabel("x, mm", fontsize=8)
    figure.suptitle(f"{title}\n", x=0.01, ha="left", fontsize=12, color=INK, fontweight="bold")
    figure.text(0.01, 1 - 0.42 / height, note, ha="left", va="center", fontsize=8.5, color=NOTE)
    return figure, list(grid.flat[:count])


def _frame(facts: Facts) -> tuple[float, float, float, float]:
    """The box and a little more."""
    (x, y), (width, depth) = facts["box"]["corner_mm"], facts["box"]["size_mm"]
    more = 0.02 * width
    return x - more, y - more, x + width + more, y + depth + more


def _board(axes: Axes, facts: Facts, *, names: bool = False) -> None:
    """Box, board, parts, keep-outs and screws."""
    from matplotlib.patches import Circle

    left, front, right, back = _frame(facts)
    axes.set(xlim=(left, right), ylim=(front, back), aspect="equal")
    axes.spines[:].set_visible(False)
    axes.tick_params(colors=INK, labelsize=8, color=FAINT)
    _outline(axes, facts["box"], NOTE, linestyle="--", linewidth=0.8)
    _outline(axes, facts["sheet"], INK, linewidth=1.2)
    for part in facts["parts"]:
        _outline(axes, part, INK, linewidth=0.8, zorder=3)
        if names:
            (x, y), (width, depth) = part["corner_mm"], part["size_mm"]
            upright = 90 if width < 14 else 0
            axes.text(
                x + width / 2, y + depth / 2, plain(part["name"]), fontsize=6.5, color=INK, ha="center", va="center",
                rotation=upright, zorder=6, path_effects=outlined("white", 1.6),
            )  # fmt: skip
    for keep in facts["keep_outs"]:
        _outline(axes, keep, ALARM, linewidth=0.9, hatch="////", zorder=3)
    for screw in facts["screws"]:
        axes.add_patch(
            Circle(screw["at_mm"], screw["ring_mm"] / 2, fill=False, edgecolor=ALARM, linewidth=0.9, zorder=3)
        )
        axes.add_patch(Circle(screw["at_mm"], screw["hole_mm"] / 2, color=ALARM, linewidth=0, zorder=3))


def _outline(axes: Axes, area: Facts, colour: str, **style: Any) -> None:
    from matplotlib.patches import Rectangle

    width, depth = area["size_mm"]
    axes.add_patch(Rectangle(area["corner_mm"], width, depth, fill=False, edgecolor=colour, **style))


def _plate(axes: Axes, plate: Facts, number: int | None) -> None:
    """A plate's outline and its hoses' straight stretches."""
    from matplotlib.patches import Rectangle

    colour = LINES[0] if number != 2 else LINES[2]
    corner, (width, depth) = (plate["x_mm"], plate["y_mm"]), plate["outline_mm"]
    axes.add_patch(Rectangle(corner, width, depth, facecolor=colour, alpha=0.22, linewidth=0, zorder=2))
    axes.add_patch(Rectangle(corner, width, depth, fill=False, edgecolor=colour, linewidth=1.8, zorder=4))
    for zone in plate["hose_zones_mm"]:
        axes.add_patch(
            Rectangle(zone["corner_mm"], *zone["size_mm"], facecolor=COOLANT, edgecolor=INK, linewidth=0.5, zorder=4)
        )
    if number is not None:
        text = "1, coolant first" if number == 1 else "2"
        axes.text(corner[0] + 2, corner[1] + depth - 2, text, fontsize=7.5, color=colour, fontweight="bold", va="top",
                  zorder=7, path_effects=outlined("white", 2.0))  # fmt: skip


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


def _classes(positions: list[Facts], groups: list[str]) -> Iterator[tuple[str, str, list[Facts]]]:
    yield "allowed", ALLOWED, [one for one in positions if one["allowed"]]
    forbidden = [(reason_group(one["why"][0]), one) for one in positions if not one["allowed"]]
    for group, colour in zip(groups, REASON_COLOURS, strict=False):
        yield group, colour, [one for known, one in forbidden if known == group]
    yield "other reasons", OTHER, [one for known, one in forbidden if known not in groups]


def _centre(one: Facts, size: Sequence[float]) -> tuple[float, float]:
    return one["x_mm"] + size[0] / 2, one["y_mm"] + size[1] / 2


def _centres(facts: Facts, positions: list[Facts]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Centres of the plate at positions, mm."""
    size = facts["plate_size_mm"]
    points = [_centre(one, size if one["rotation_deg"] % 180 == 0 else size[::-1]) for one in positions]
    found = np.array(points, dtype=float).reshape(-1, 2)
    return found[:, 0], found[:, 1]


def _marker(facts: Facts) -> float:
    """Area of a square as wide as the pitch, points²."""
    left, _, right, _ = _frame(facts)
    columns = min(len(_by_way(facts)), 2)
    points = 72 * 10.5 / columns * 0.8 / (right - left)
    return float((facts["pitch_mm"] * points) ** 2)

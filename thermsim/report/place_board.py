"""The board of a placement search in plan: box, sheet, parts, keep-outs, screws, and plates with their hoses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from thermsim.report.style import ALARM, COOLANT, FAINT, INK, NOTE, outlined
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Facts = dict[str, Any]


def frame(facts: Facts) -> tuple[float, float, float, float]:
    """The box and a little more."""
    (x, y), (width, depth) = facts["box"]["corner_mm"], facts["box"]["size_mm"]
    more = 0.02 * width
    return x - more, y - more, x + width + more, y + depth + more


def draw_board(axes: Axes, facts: Facts, *, names: bool = False) -> None:
    """Box, board, parts, keep-outs and screws."""
    from matplotlib.patches import Circle

    left, front, right, back = frame(facts)
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


def draw_plate(axes: Axes, plate: Facts, colour: str, text: str) -> None:
    """A plate's outline and its hoses' straight stretches."""
    from matplotlib.patches import Rectangle

    corner, (width, depth) = (plate["x_mm"], plate["y_mm"]), plate["outline_mm"]
    axes.add_patch(Rectangle(corner, width, depth, facecolor=colour, alpha=0.22, linewidth=0, zorder=2))
    axes.add_patch(Rectangle(corner, width, depth, fill=False, edgecolor=colour, linewidth=1.8, zorder=4))
    for zone in plate["hose_zones_mm"]:
        low, size = zone["corner_mm"], zone["size_mm"]
        axes.add_patch(Rectangle(low, *size, facecolor=COOLANT, edgecolor=INK, linewidth=0.5, zorder=4))
    axes.text(
        corner[0] + 2, corner[1] + 2, text, fontsize=7.5, color=colour, fontweight="bold", va="bottom", zorder=7,
        path_effects=outlined("white", 2.0),
    )  # fmt: skip

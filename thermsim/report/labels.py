"""Placing small labels on a map so that they do not collide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, pi, sin
from typing import TYPE_CHECKING

from thermsim.report.style import outlined

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.transforms import Bbox

Rect = tuple[float, float, float, float]  # x0, y0, x1, y1


@dataclass(frozen=True)
class Label:
    """Text for something that occupies `around` (data coordinates); `inside` if it may stand within it."""

    text: str
    around: Rect
    inside: bool = True
    bold: bool = False


def place_labels(axes: Axes, labels: Sequence[Label], size: float = 7.0) -> None:
    """Write each label inside its rectangle if it fits, else beside it, else further off with a leader line.

    A place is good when it lies within the axes and touches no label and no labelled rectangle but its own.
    Needs a finished layout: the figure's layout engine must have run and be switched off.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = axes.figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
    points = axes.figure.dpi / 72  # pixels per point
    frame = _rect(axes.bbox)
    boxes = [_rect(axes.transData.transform_bbox(_bbox(label.around))) for label in labels]
    taken: list[Rect] = []
    for k in sorted(range(len(labels)), key=lambda k: (not labels[k].bold, _area(boxes[k]))):
        label, box = labels[k], boxes[k]
        text = axes.text(
            0, 0, label.text, fontsize=size, color="white", ha="center", va="center", linespacing=1.0,
            zorder=6, fontweight="bold" if label.bold else "normal", clip_on=False,
            bbox={"boxstyle": "square,pad=0.12", "facecolor": "#000000", "edgecolor": "none", "alpha": 0.66},
        )  # fmt: skip
        extent = text.get_window_extent(renderer)
        width, height = extent.width + 2 * points, extent.height + points
        others = taken + [other for j, other in enumerate(boxes) if j != k]
        spots = list(_spots(box, width, height, label.inside, points))
        best = min(range(len(spots)), key=lambda s: (_badness(spots[s], others, frame), s))
        spot = spots[best]
        taken.append(spot)
        centre = (spot[0] + spot[2]) / 2, (spot[1] + spot[3]) / 2
        x, y = axes.transData.inverted().transform(centre)
        text.set_position((float(x), float(y)))
        if best >= len(spots) - FAR_SPOTS:
            _leader(axes, box, centre)


FAR_SPOTS = 24  # the last candidates, far enough to need a leader line


def _spots(box: Rect, width: float, height: float, inside: bool, points: float) -> Iterator[Rect]:
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    half_x, half_y = (box[2] - box[0] + width) / 2, (box[3] - box[1] + height) / 2
    room_x, room_y = (box[2] - box[0] - width) / 2, (box[3] - box[1] - height) / 2
    if inside and room_x >= 0 and room_y >= 0:
        for dx, dy in ((0.0, 0.0), (-room_x, 0.0), (room_x, 0.0), (0.0, room_y), (0.0, -room_y)):
            yield _around(x + dx, y + dy, width, height)
    for dx, dy in ((0, half_y), (0, -half_y), (half_x, 0), (-half_x, 0)):
        yield _around(x + dx, y + dy, width, height)
    for distance in (12 * points, 24 * points):
        for k in range(FAR_SPOTS // 2):
            angle = pi / 2 + 2 * pi * k / (FAR_SPOTS // 2)
            yield _around(x + (half_x + distance) * cos(angle), y + (half_y + distance) * sin(angle), width, height)


def _badness(spot: Rect, others: Sequence[Rect], frame: Rect) -> float:
    """Overlapped area, pixels²: with what is there, and beyond the frame (worse)."""
    beyond = _area(spot) - _overlap(spot, frame)
    return 3 * beyond + sum(_overlap(spot, other) for other in others)


def _leader(axes: Axes, box: Rect, centre: tuple[float, float]) -> None:
    near = min(max(centre[0], box[0]), box[2]), min(max(centre[1], box[1]), box[3])
    (x0, y0), (x1, y1) = axes.transData.inverted().transform([near, centre])
    axes.plot(
        [x0, x1], [y0, y1], color="white", linewidth=0.7, zorder=5.5, path_effects=outlined("#000000", 1.6),
        label="_leader",
    )  # fmt: skip


def _around(x: float, y: float, width: float, height: float) -> Rect:
    return x - width / 2, y - height / 2, x + width / 2, y + height / 2


def _overlap(a: Rect, b: Rect) -> float:
    return max(min(a[2], b[2]) - max(a[0], b[0]), 0.0) * max(min(a[3], b[3]) - max(a[1], b[1]), 0.0)


def _area(rect: Rect) -> float:
    return (rect[2] - rect[0]) * (rect[3] - rect[1])


def _rect(box: Bbox) -> Rect:
    return float(box.x0), float(box.y0), float(box.x1), float(box.y1)


def _bbox(rect: Rect) -> Bbox:
    from matplotlib.transforms import Bbox

    return Bbox([[rect[0], rect[1]], [rect[2], rect[3]]])

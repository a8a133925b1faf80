"""A place of a plate in plan, and the way between the plan and the plate's own frame."""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.case.rectangles import Rectangle, rectangle

Pair = tuple[float, float]


@dataclass(frozen=True)
class Spot:
    """Where a plate of size (W, H) lies: the low corner of its outline in plan (m), turned left by `turn` degrees.

    The plate's own frame has its origin at its low corner before it is turned.
    """

    corner: Pair
    turn: int
    size: Pair

    @property
    def outline_size(self) -> Pair:
        """Along x and y, as it lies."""
        width, height = self.size
        return (height, width) if self.turn in (90, 270) else (width, height)

    @property
    def outline(self) -> Rectangle:
        """What it covers in plan."""
        return rectangle(self.corner, self.outline_size)

    def to_plan(self, point: Pair) -> Pair:
        """A point of the plate's own frame in plan."""
        (u, v), (width, height), (x, y) = point, self.size, self.corner
        du, dv = {0: (u, v), 90: (height - v, u), 180: (width - u, height - v), 270: (v, width - u)}[self.turn]
        return x + du, y + dv

    def to_own(self, point: Pair) -> Pair:
        """A point of the plan in the plate's own frame."""
        (width, height), du, dv = self.size, point[0] - self.corner[0], point[1] - self.corner[1]
        return {0: (du, dv), 90: (dv, height - du), 180: (width - du, height - dv), 270: (width - dv, du)}[self.turn]

    def direction(self, own: Pair) -> Pair:
        """A direction of the plate's own frame in plan."""
        u, v = own
        return {0: (u, v), 90: (-v, u), 180: (-u, -v), 270: (v, -u)}[self.turn]

    def own_rectangle(self, area: Rectangle) -> Rectangle:
        """A rectangle of the plan in the plate's own frame."""
        (a, b), (c, d) = self.to_own(area[:2]), self.to_own(area[2:])
        return Rectangle(min(a, c), min(b, d), max(a, c), max(b, d))


def lattice(region: Rectangle, size: Pair, turn: int, pitch: float) -> list[Spot]:
    """All places of a plate on a lattice from the region's low corner, its outline inside the region."""
    width, depth = Spot((0.0, 0.0), turn, size).outline_size
    columns = int((region.right - region.left - width) / pitch + 1e-6)
    rows = int((region.back - region.front - depth) / pitch + 1e-6)
    slack = 1e-9
    if region.right - region.left - width < -slack or region.back - region.front - depth < -slack:
        return []
    return [
        Spot((region.left + i * pitch, region.front + j * pitch), turn, size)
        for j in range(rows + 1)
        for i in range(columns + 1)
    ]

"""Rectangles of the plan: what sheets and placed parts cover."""

from collections.abc import Sequence
from typing import NamedTuple

from thermsim.case.references import find
from thermsim.case.schema import Spec
from thermsim.case.solid import Part, Sheet

SLACK_M = 1e-7  # rounding
Pair = tuple[float, float]


class Rectangle(NamedTuple):
    """A rectangle of the plan, m."""

    left: float
    front: float
    right: float
    back: float

    def holds(self, other: "Rectangle", slack: float = SLACK_M) -> bool:
        """Whether the other lies inside."""
        low = other.left >= self.left - slack and other.front >= self.front - slack
        return low and other.right <= self.right + slack and other.back <= self.back + slack

    def common(self, other: "Rectangle") -> "Rectangle | None":
        """What both cover, None if that is nothing."""
        both = Rectangle(
            max(self.left, other.left), max(self.front, other.front),
            min(self.right, other.right), min(self.back, other.back),
        )  # fmt: skip
        return both if both.right - both.left > SLACK_M and both.back - both.front > SLACK_M else None

    @property
    def area(self) -> float:
        """m²."""
        return (self.right - self.left) * (self.back - self.front)

    def __str__(self) -> str:
        left, front, right, back = (f"{1e3 * value:.6g}" for value in self)
        return f"x {left} to {right}, y {front} to {back} mm"


def rectangle(corner: Pair, size: Pair) -> Rectangle:
    """From the low-x, low-y corner and the size."""
    return Rectangle(*corner, corner[0] + size[0], corner[1] + size[1])


def around(centre: Pair, size: Pair) -> Rectangle:
    """From the centre and the size."""
    return rectangle((centre[0] - size[0] / 2, centre[1] - size[1] / 2), size)


def outline(sheet: Sheet) -> Rectangle:
    """A sheet's outline, cutouts and all."""
    return rectangle(sheet.corner, sheet.size)


def extent(spec: Spec, address: str) -> Rectangle | None:
    """What a sheet, plate or placed part covers in plan; None for anything else."""
    found = find(spec, address)
    if isinstance(found, Sheet):
        return outline(found)
    if isinstance(found, Part) and found.centre is not None and found.size is not None:
        return around(found.centre, found.size)
    return None


def overlapping(areas: Sequence[Rectangle]) -> list[tuple[int, int]]:
    """Pairs of rectangles that overlap, by their numbers; only those side by side are compared."""
    found: list[tuple[int, int]] = []
    reach: list[int] = []
    for number in sorted(range(len(areas)), key=lambda k: areas[k].left):
        reach = [k for k in reach if areas[k].right > areas[number].left]
        found += [(min(k, number), max(k, number)) for k in reach if areas[k].common(areas[number])]
        reach.append(number)
    return sorted(found)

"""How a hose leaves a plate: straight at its barb, then a bend no tighter than it bears, then to the wall.

The bend radii are common practice, no source: soft polyurethane 3.4 outer diameters, stiff fluoropolymer the outer
diameter squared over the wall.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from thermsim.case.placing import Exit, PlateHose
from thermsim.case.rectangles import SLACK_M, Rectangle
from thermsim.studies.place.layouts import Mouth
from thermsim.studies.place.spot import Pair, Spot

OUTWARDS = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0)}
SOFT_RADIUS = 3.4  # outer diameters


@dataclass(frozen=True)
class Route:
    """One hose's way out: its straight stretch in plan, length from rim to wall (m), and bends of 90°."""

    zone: Rectangle
    length: float
    bends: int


def least_bend_radius(hose: PlateHose, bore: float | None) -> float:
    """Least radius of the centre line, m: stated, or by the rule for its kind; `bore` is needed for a stiff one."""
    if hose.bend_radius is not None:
        return hose.bend_radius
    if not hose.stiff:
        return SOFT_RADIUS * hose.outer
    if bore is None or bore >= hose.outer:
        raise ValueError(
            "a stiff hose's bend radius needs a bore smaller than its outer diameter, or state bend_radius"
        )
    return 2 * hose.outer**2 / (hose.outer - bore)


@dataclass(frozen=True)
class Box:
    """Inside of the box in plan, and where hoses may leave it."""

    inside: Rectangle
    exits: tuple[Exit, ...]

    def side_of(self, point: Pair) -> str:
        """The wall nearest to an exit's point."""
        x, y = point
        gaps = {
            "left": abs(x - self.inside.left), "right": abs(self.inside.right - x),
            "front": abs(y - self.inside.front), "back": abs(self.inside.back - y),
        }  # fmt: skip
        return min(gaps, key=lambda side: gaps[side])

    def wall_ahead(self, at: Pair, out: Pair) -> float:
        """Distance from a point to the wall in a direction along x or y."""
        if out[0]:
            return self.inside.right - at[0] if out[0] > 0 else at[0] - self.inside.left
        return self.inside.back - at[1] if out[1] > 0 else at[1] - self.inside.front


def way_out(
    spot: Spot, mouth: Mouth, hose: PlateHose, radius: float, box: Box, obstacles: Sequence[Rectangle]
) -> tuple[Route | None, str]:
    """The shortest way out for a hose, or none and why.

    `obstacles`: outlines of what is as high as the hose. What lies beyond the bend is not looked at: there the hose
    may rise over the parts.
    """
    at, out = spot.to_plan(mouth.at), spot.direction(mouth.out)
    reach = hose.barb_length + radius
    ahead = box.wall_ahead(at, out)
    if ahead >= hose.barb_length - SLACK_M and any(_straight(at, out, leave, box, hose.outer) for leave in box.exits):
        zone = _zone(at, out, ahead, hose.outer)
        if not any(zone.common(obstacle) for obstacle in obstacles):
            return Route(zone, ahead, 0), ""
    if ahead < reach + hose.outer / 2 - SLACK_M:
        return None, "no room for its bend before the wall"
    zone = _zone(at, out, reach + hose.outer / 2, hose.outer)
    if any(zone.common(obstacle) for obstacle in obstacles):
        return None, "something stands where it must be straight or bend"
    start = at[0] + reach * out[0], at[1] + reach * out[1]
    found = [_bent(zone, start, out, reach, leave, box) for leave in box.exits]
    return min(found, key=lambda route: route.length), ""


def _zone(at: Pair, out: Pair, length: float, width: float) -> Rectangle:
    """The strip a straight hose takes, from the rim outwards."""
    (x, y), (dx, dy) = at, out
    ends = sorted((x, x + dx * length)), sorted((y, y + dy * length))
    side = width / 2 * abs(dy), width / 2 * abs(dx)
    return Rectangle(ends[0][0] - side[0], ends[1][0] - side[1], ends[0][1] + side[0], ends[1][1] + side[1])


def _straight(at: Pair, out: Pair, leave: Exit, box: Box, outer: float) -> bool:
    """Whether an exit lies straight ahead."""
    if isinstance(leave, str):
        return OUTWARDS[leave] == out
    off = abs(leave[1] - at[1]) if out[0] else abs(leave[0] - at[0])
    return OUTWARDS[box.side_of(leave)] == out and off <= outer / 2


def _bent(zone: Rectangle, start: Pair, out: Pair, reach: float, leave: Exit, box: Box) -> Route:
    """Along x and y from the end of the straight stretch to an exit; a whole side is met at its nearest point."""
    side = leave if isinstance(leave, str) else box.side_of(leave)
    normal = OUTWARDS[side]
    if isinstance(leave, str):
        ahead = box.wall_ahead(start, normal)
        end = start[0] + ahead * normal[0], start[1] + ahead * normal[1]
    else:
        end = leave
    way = end[0] - start[0], end[1] - start[1]
    return Route(zone, reach + abs(way[0]) + abs(way[1]), _bends(way, out, normal))


def _bends(way: Pair, out: Pair, normal: Pair) -> int:
    """Fewest bends of 90° of a path that starts along `out` and ends along `normal`."""
    ahead = way[0] * out[0] + way[1] * out[1]
    aside = abs(way[0] * out[1]) + abs(way[1] * out[0])
    turn = out[0] * normal[0] + out[1] * normal[1]
    if turn > 0.5:
        return (0 if aside < 1e-9 else 2) if ahead >= 0 else 4
    if turn < -0.5:
        return 2 if aside > 1e-9 or ahead <= 0 else 4
    return 1 if ahead >= -1e-9 else 3

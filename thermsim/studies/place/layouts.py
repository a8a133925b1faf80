"""Channel layouts of a rectangular plate in its own frame: serpentine, parallel grooves, double spiral.

A plate of size (W, H) lies with its low corner at the origin; u runs along W, v along H, lengths in m. Coolant
enters and leaves at the rim. Every groove keeps the asked-for wall to the rim and to its neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist

Pair = tuple[float, float]
Path = tuple[Pair, ...]

LAYOUTS = ("serpentine", "parallel", "spiral")
MOST_TURNS = 100


class NoRoom(ValueError):
    """A layout that does not fit the plate."""


@dataclass(frozen=True)
class Mouth:
    """Where a hose meets the rim, and the direction outwards (a unit vector along u or v)."""

    at: Pair
    out: Pair


@dataclass(frozen=True)
class Layout:
    """Grooves (the coolant enters each at its first point) and the mouths of inlet and outlet."""

    name: str
    grooves: tuple[Path, ...]
    inlet: Mouth
    outlet: Mouth

    def reversed(self) -> Layout:
        """The same grooves, the coolant entering at the other end."""
        grooves = tuple(groove[::-1] for groove in self.grooves)
        return Layout(self.name, grooves, self.outlet, self.inlet)


def layout(name: str, size: Pair, passes: int, width: float, wall: float) -> Layout:
    """A layout by name, `passes` grooves across v; `width` of a groove and least `wall` beside it, m.

    Raises `NoRoom` if the walls become thinner than that.
    """
    pitch = size[1] / passes
    if pitch < width + wall or min(size) < 2 * wall + width:
        raise NoRoom(
            f"{passes} passes of {1e3 * width:.3g} mm leave less than {1e3 * wall:.3g} mm of wall "
            f"on {1e3 * size[0]:.4g} x {1e3 * size[1]:.4g} mm"
        )
    return {"serpentine": _serpentine, "parallel": _parallel, "spiral": _spiral}[name](size, passes, pitch)


def drawn(size: Pair, grooves: Sequence[Path]) -> Layout:
    """A layout as someone drew it, already in the plate's own frame; mouths lie straight ahead of its ends."""
    first = grooves[0]
    return Layout("as drawn", tuple(grooves), _mouth(size, first[1], first[0]), _mouth(size, first[-2], first[-1]))


def _mouth(size: Pair, before: Pair, end: Pair) -> Mouth:
    """Where the line from `before` through `end`, taken along its larger component, meets the rim."""
    du, dv = end[0] - before[0], end[1] - before[1]
    if abs(du) >= abs(dv):
        return Mouth((size[0] if du > 0 else 0.0, end[1]), (1.0 if du > 0 else -1.0, 0.0))
    return Mouth((end[0], size[1] if dv > 0 else 0.0), (0.0, 1.0 if dv > 0 else -1.0))


def _serpentine(size: Pair, passes: int, pitch: float) -> Layout:
    """Back and forth along u; with an even number both mouths are on the same side."""
    near, far = pitch / 2, size[0] - pitch / 2
    path: list[Pair] = []
    for n in range(passes):
        v, ends = (n + 0.5) * pitch, (near, far) if n % 2 == 0 else (far, near)
        path += [(ends[0], v), (ends[1], v)]
    path[0] = (0.0, path[0][1])
    path[-1] = (0.0 if passes % 2 == 0 else size[0], path[-1][1])
    return _from_path("serpentine", size, path)


def _parallel(size: Pair, passes: int, pitch: float) -> Layout:
    """Straight grooves from a header at u = 0 to one at u = W; the headers are not modelled."""
    grooves = tuple(((0.0, (n + 0.5) * pitch), (size[0], (n + 0.5) * pitch)) for n in range(passes))
    middle = size[1] / 2
    return Layout("parallel", grooves, Mouth((0.0, middle), (-1.0, 0.0)), Mouth((size[0], middle), (1.0, 0.0)))


def _spiral(size: Pair, passes: int, pitch: float) -> Layout:
    """Inwards and back outwards beside itself, so that cold and warm coolant lie next to one another."""
    inner = _inwards(size, pitch / 2, 2 * pitch)
    outer = _inwards(size, 1.5 * pitch, 2 * pitch)
    count = min(len(inner), len(outer))
    if count < 2:
        raise NoRoom(f"a spiral needs room for two tracks side by side; {passes} passes leave none")
    # the way in goes on until it is beside the end of the way out, and there turns back
    (_, v0), (u1, v1) = inner[count - 2], inner[count - 1]
    end = outer[count - 1]
    turn = (end[0], v1) if v0 == v1 else (u1, end[1])
    path = [*inner[: count - 1], turn, *outer[:count][::-1]]
    return _from_path("spiral", size, path)


def _inwards(size: Pair, start: float, step: float) -> list[Pair]:
    """Corners of a rectangular spiral from the rim at u = 0, its first run at v = start, runs `step` apart."""
    path: list[Pair] = [(0.0, start)]
    for turn in range(MOST_TURNS):
        low = start + turn * step
        right, top, after = size[0] - low, size[1] - low, low + step
        if right <= low or top <= low:
            break
        path.append((right, low))
        path.append((right, top))
        path.append((low, top))
        if top <= after:
            break
        path.append((low, after))
    return path


def _from_path(name: str, size: Pair, path: Sequence[Pair]) -> Layout:
    clean = [path[0]]
    for point in path[1:]:
        if dist(point, clean[-1]) > 1e-9:
            clean.append(point)
    straight = [b for a, b, c in zip(clean, clean[1:], clean[2:], strict=False) if not _in_line(a, b, c)]
    points = (clean[0], *straight, clean[-1])
    return Layout(name, (points,), _mouth(size, points[1], points[0]), _mouth(size, points[-2], points[-1]))


def _in_line(a: Pair, b: Pair, c: Pair) -> bool:
    return abs((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])) < 1e-12


def length(grooves: Sequence[Path]) -> float:
    """Length of all grooves together, m."""
    return sum(dist(a, b) for groove in grooves for a, b in pairwise(groove))

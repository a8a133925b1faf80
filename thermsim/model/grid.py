"""One rectilinear grid for all sheets, with lines on every feature's edge."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from thermsim.case.errors import CaseError, Problem
from thermsim.case.schema import Spec
from thermsim.case.solid import Cutout, Film, HeatPipe, Joint, Patch, Sheet, Source
from thermsim.model.arrays import Floats

NEIGHBOUR_RATIO = 2.0  # larger jumps in cell size cost accuracy at the seam
MAX_CELLS_ACROSS = 20_000
MAX_CELLS = 4_000_000  # of a sheet as large as the grid; memory ends soon after


def unusable(key: str, message: str) -> CaseError:
    """What the case's own checks could not see before the grid was laid."""
    return CaseError([Problem("", None, key, message)])


@dataclass(frozen=True)
class Grid:
    """Grid lines in plan, m: `x` of shape (nx+1,), `y` of shape (ny+1,); cells are indexed [row y, column x]."""

    x: Floats
    y: Floats
    moved: tuple[tuple[str, float, float], ...] = ()  # axis, and from where to where

    @property
    def shifts(self) -> list[str]:
        """The moved lines in words."""
        return [f"grid line {axis} = {1e3 * a:.4g} mm moved to {1e3 * b:.4g} mm" for axis, a, b in self.moved]

    def columns(self, low: float, high: float) -> slice:
        """Cells between two x that lie on grid lines (or were merged onto them)."""
        return _span(self.x, low, high)

    def rows(self, low: float, high: float) -> slice:
        """Cells between two y that lie on grid lines."""
        return _span(self.y, low, high)


def make_grid(spec: Spec) -> Grid:
    """The common grid of a case: lines on all edges, closer ones than `run.merge` merged, graded in between.

    Then every cell is halved `run.halvings` times.
    """
    x_edges, y_edges = _feature_edges(spec)
    lines: list[Floats] = []
    moves: list[tuple[str, float, float]] = []
    for axis, edges in (("x", x_edges), ("y", y_edges)):
        merged, moved = merge_lines(edges, spec.run.merge)
        lines.append(halved(fill(merged, spec.run.cell), spec.run.halvings))
        moves += [(axis, a, b) for a, b in moved]
    cells = (lines[0].size - 1) * (lines[1].size - 1)
    if cells > MAX_CELLS:
        raise unusable("run.cell", f"{1e3 * spec.run.cell:.4g} mm gives {cells} cells; use a larger one")
    return Grid(lines[0], lines[1], tuple(moves))


def _feature_edges(spec: Spec) -> tuple[list[float], list[float]]:
    x: list[float] = []
    y: list[float] = []

    def rectangle(corner: tuple[float, float], size: tuple[float, float]) -> None:
        x.extend((corner[0], corner[0] + size[0]))
        y.extend((corner[1], corner[1] + size[1]))

    sheets: list[Sheet] = [*spec.sheet.values(), *spec.plate.values()]
    for sheet in sheets:
        rectangle(sheet.corner, sheet.size)
        pieces: list[Patch | Cutout] = [*sheet.patch.values(), *sheet.cutout.values()]
        for piece in pieces:
            rectangle(piece.corner, piece.size)
    for part in spec.part.values():
        if part.on and part.centre and part.size:
            rectangle((part.centre[0] - part.size[0] / 2, part.centre[1] - part.size[1] / 2), part.size)
    regions: list[Film | Source | Joint | HeatPipe] = [
        *spec.film.values(), *spec.source.values(), *spec.joint.values(), *spec.heat_pipe.values(),
    ]  # fmt: skip
    for region in regions:
        if region.corner and region.size:
            rectangle(region.corner, region.size)
    for edge in spec.edge.values():
        if edge.stretch:
            (x if edge.side in ("front", "back") else y).extend(edge.stretch)
    return x, y


def merge_lines(edges: Iterable[float], tolerance: float) -> tuple[list[float], list[tuple[float, float]]]:
    """Sorted distinct lines; a line closer than `tolerance` to the one before it is moved onto that one.

    Returns the lines and the moves (from, to) that exceed rounding.
    """
    lines: list[float] = []
    moved: list[tuple[float, float]] = []
    for edge in sorted(edges):
        if lines and edge - lines[-1] < tolerance:
            if edge - lines[-1] > 1e-9:
                moved.append((edge, lines[-1]))
        else:
            lines.append(edge)
    return lines, moved


def fill(lines: list[float], cell: float) -> Floats:
    """Lines with equal cells no larger than `cell` in each gap, then halved until neighbours differ little."""
    if len(lines) < 2:  # no sheets, only lumped parts
        return np.array([0.0, cell])
    counts = [max(1, int(np.ceil((b - a) / cell - 1e-9))) for a, b in pairwise(lines)]
    if sum(counts) > MAX_CELLS_ACROSS:
        raise unusable("run.cell", f"{1e3 * cell:.4g} mm gives {_counted(sum(counts))} cells across; use a larger one")
    sizes = np.concatenate([np.full(n, (b - a) / n) for n, a, b in zip(counts, lines, lines[1:], strict=False)])
    while True:
        left = np.r_[np.inf, sizes[:-1]]
        right = np.r_[sizes[1:], np.inf]
        large = sizes > NEIGHBOUR_RATIO * 1.001 * np.minimum(left, right)
        if not large.any():
            break
        sizes = np.repeat(np.where(large, sizes / 2, sizes), np.where(large, 2, 1))
    filled: Floats = lines[0] + np.r_[0.0, np.cumsum(sizes)]
    # take away the rounding of the running sum on the lines that matter
    spot = np.clip(np.searchsorted(filled, lines), 1, filled.size - 1)
    filled[np.where(np.abs(filled[spot - 1] - lines) <= np.abs(filled[spot] - lines), spot - 1, spot)] = lines
    return filled


def _counted(number: int) -> str:
    return str(number) if number < 10**9 else f"{float(number):.1e}"


def halved(lines: Floats, times: int) -> Floats:
    """The lines with one more in the middle of each gap, so many times over."""
    for _ in range(times):
        finer = np.empty(2 * lines.size - 1)
        finer[::2], finer[1::2] = lines, (lines[1:] + lines[:-1]) / 2
        lines = finer
    return lines


def _span(lines: Floats, low: float, high: float) -> slice:
    first = int(np.abs(lines - low).argmin())
    last = int(np.abs(lines - high).argmin())
    return slice(first, max(last, first + 1))

"""The box as a plate meets it: what heat taken at any part, air or stretch of a sheet does to every other.

The box's own laws (radiation, natural films) are taken at one state, radiation with its slope there.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import scipy.sparse as sp

from thermsim.case.case import Case
from thermsim.case.rectangles import Rectangle
from thermsim.model.arrays import Floats, Ints
from thermsim.model.build import build
from thermsim.solve.adjoint import end_slopes
from thermsim.solve.columns import Port, port_response, shares
from thermsim.solve.factor import Factor
from thermsim.solve.ordering import layout_of
from thermsim.solve.steady import WARM

TILE = 0.02  # m, of a sheet that a plate faces: its heat is told apart no finer than that


class BoxSide:
    """Ports of the box without its plate: parts, air nodes, tiles of sheets.

    `response`: rise of port i for a watt into port j, K/W, shape (ports, ports). `bare`: their temperatures with no
    plate, °C, shape (ports,). Of parts that have a resistance to their top the body is the port.
    """

    def __init__(self, case: Case, airways: Sequence[str], sheets: Sequence[str]) -> None:
        self.case = case
        self.model = build(case)
        self.parts = {name: k for k, name in enumerate(case.spec.part)}
        ports = [Port.of_node(int(self.model.numbers(f"part.{name}")[0])) for name in self.parts]
        self.air: dict[str, Ints] = {}
        for airway in airways:
            nodes = self.model.site.streams[airway].nodes
            self.air[airway] = np.arange(len(ports), len(ports) + nodes.size)
            ports += [Port.of_node(int(node)) for node in nodes]
        self.tiles: dict[str, tuple[Ints, list[Rectangle]]] = {}
        for sheet in sheets:
            found = self._tile(sheet)
            self.tiles[sheet] = np.arange(len(ports), len(ports) + len(found)), [area for area, _ in found]
            ports += [port for _, port in found]
        self.ports = ports
        self.inputs = self.model.program.at(0.5 * min((*self.model.program.breaks, case.spec.run.duration)), {})
        self.response = np.zeros((len(ports), len(ports)))
        self.bare = np.zeros(len(ports))
        self.factorisations = 0
        self._factor: Factor | None = None
        self._sources = np.zeros(0)

    def linearise(self, temperature: Floats | None = None) -> None:
        """Take all laws at node temperatures (°C; a warm room without any), and find the ports' responses."""
        model = self.model
        if temperature is None:
            temperature = model.start() + WARM
        now = model.conditions(temperature, self.inputs)
        matrix = model.matrix(model.strengths(now))
        slope = sp.csc_array(model.square(matrix) - end_slopes(model, now))
        self._factor = None
        self._factor = Factor(slope, layout_of(model))
        self.factorisations += 1
        self._sources = model.imbalance(matrix, temperature, self.inputs) + slope @ temperature
        self.response = port_response(self._factor, self.ports, model.node_count)
        self.bare = shares(self.ports, model.node_count) @ self._factor.solve(self._sources)

    def field(self, taken: Floats) -> Floats:
        """Temperature of every node when heat is taken at the ports, W, shape (ports,)."""
        assert self._factor is not None
        away = np.zeros(self.model.node_count)
        for port, watts in zip(self.ports, taken, strict=True):
            away[port.nodes] += watts * port.shares
        return self._factor.solve(self._sources - away)

    def over_air(self, airway: str, area: Rectangle) -> Floats:
        """Shares of ports in the air over a rectangle, shape (ports,)."""
        stream = self.model.site.streams[airway]
        low, high = (area.left, area.right) if stream.axis == 0 else (area.front, area.back)
        at = (np.array([low, high]) - stream.start) / stream.length
        start, end = sorted(np.clip(1 - at if stream.reversed else at, 0.0, 1.0) * stream.nodes.size)
        steps = np.arange(stream.nodes.size)
        covered = np.clip(np.minimum(steps + 1, end) - np.maximum(steps, start), 0.0, None)
        if covered.sum() == 0:  # outside the stream the nearest air counts
            covered[min(int(start), stream.nodes.size - 1)] = 1.0
        found = np.zeros(len(self.ports))
        found[self.air[airway]] = covered / covered.sum()
        return found

    def over_sheet(self, sheet: str, area: Rectangle) -> tuple[Floats, float]:
        """Shares of ports in a sheet under a rectangle, shape (ports,), and the area they have in common, m²."""
        numbers, tiles = self.tiles[sheet]
        common = np.array([both.area if (both := tile.common(area)) else 0.0 for tile in tiles])
        found = np.zeros(len(self.ports))
        total = float(common.sum())
        if total > 0:
            found[numbers] = common / total
        return found, total

    def over_part(self, part: str) -> Floats:
        """The one port of a part, shape (ports,)."""
        found = np.zeros(len(self.ports))
        found[self.parts[part]] = 1.0
        return found

    def _tile(self, sheet: str) -> list[tuple[Rectangle, Port]]:
        cells = self.model.site.sheets[sheet]
        found = []
        for area in tiles(Rectangle(*(float(at) for at in (cells.x[0], cells.y[0], cells.x[-1], cells.y[-1])))):
            where = cells.inside(area[:2], (area.right - area.left, area.back - area.front))
            if where.any():
                found.append((area, Port.over(cells.node[where], cells.area[where])))
        return found


def tiles(area: Rectangle) -> list[Rectangle]:
    """A rectangle in equal pieces of about `TILE`."""
    xs = np.linspace(area.left, area.right, max(round((area.right - area.left) / TILE), 1) + 1)
    ys = np.linspace(area.front, area.back, max(round((area.back - area.front) / TILE), 1) + 1)
    return [
        Rectangle(float(left), float(front), float(right), float(back))
        for left, right in pairwise(xs)
        for front, back in pairwise(ys)
    ]

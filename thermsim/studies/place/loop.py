"""The loop as the box meets it: what heat put anywhere on its plates does to them, at a given flow; and that flow."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np

from thermsim.case.rectangles import Rectangle
from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats
from thermsim.model.build import build
from thermsim.model.hydraulics import Flows, LoopHydraulics
from thermsim.model.sheets import SheetCells
from thermsim.solve.columns import Port, port_response
from thermsim.solve.factor import Factor
from thermsim.solve.ordering import layout_of
from thermsim.solve.steady import SteadySolver
from thermsim.studies.place.laid import Raw
from thermsim.studies.place.sides import loop_tables
from thermsim.studies.place.tables import case_of

LENGTH_STEP = 0.02  # m of hose between flows that are told apart
MOST_CELLS = 400  # of a plate: it conducts well, and its response is kept in full


class LoopSide:
    """Ports of a loop alone: every cell of its plates, then its blocks.

    `response`: rise of port i for a watt into port j, K/W, shape (ports, ports); `bare`: their temperatures with
    nothing put in but the pump's own heat, °C. Its laws are taken where `watts`, by address, go in evenly.
    """

    def __init__(self, tables: Raw, loop: str, flow: float, cell: float, watts: Mapping[str, float]) -> None:
        self.flow = flow
        case = case_of(loop_tables(tables, loop, cell, flow, watts))
        model = build(case)
        time = 0.5 * min((*model.program.breaks, case.spec.run.duration))
        steady = SteadySolver(model).solve(time)
        self.coolant_degc = steady.conditions.loops[loop].temperature_degc
        matrix = model.matrix(steady.strengths)
        factor = Factor(model.square(matrix), layout_of(model))
        self.plates: dict[str, tuple[slice, SheetCells]] = {}
        ports: list[Port] = []
        for name in case.spec.plate:
            cells = model.site.sheets[f"plate.{name}"]
            self.plates[name] = slice(len(ports), len(ports) + cells.node.size), cells
            ports += [Port.of_node(int(node)) for node in cells.node.ravel()]
        self.blocks = {f"block.{name}": len(ports) + k for k, name in enumerate(case.spec.block)}
        ports += [Port.of_node(int(model.numbers(address)[0])) for address in self.blocks]
        self.response = port_response(factor, ports, model.node_count)
        watts_of_all = steady.inputs.watts.copy()
        watts_of_all[: len(case.spec.part) + len(case.spec.source)] = 0.0  # what stood for the box's heat
        alone = model.program.heat @ watts_of_all - matrix @ np.r_[np.zeros(model.node_count), steady.inputs.places]
        self.bare = factor.solve(alone)[[int(port.nodes[0]) for port in ports]]

    def half(self, plate: str) -> float:
        """Resistance over unit area of half a plate's thickness, m²K/W."""
        return float(self.plates[plate][1].half.flat[0])

    def over(self, plate: str, area: Rectangle) -> Floats:
        """Shares of the ports in a rectangle of a plate's own frame, shape (ports,)."""
        where, cells = self.plates[plate]
        across = _overlap(cells.x, area.left, area.right)
        along = _overlap(cells.y, area.front, area.back)
        share = np.outer(along, across).ravel()
        found = np.zeros(self.bare.size)
        found[where] = share / share.sum()
        return found

    def over_block(self, address: str) -> Floats:
        """The one port of a block, shape (ports,)."""
        found = np.zeros(self.bare.size)
        found[self.blocks[address]] = 1.0
        return found


def _overlap(edges: Floats, low: float, high: float) -> Floats:
    """How much of each cell lies between two places, m."""
    found: Floats = np.clip(np.minimum(edges[1:], high) - np.maximum(edges[:-1], low), 0.0, None)
    return found


class FlowOf:
    """The loop's flow for hoses so much longer than stated: solved anew for every two centimetres."""

    def __init__(self, spec: Spec, loop: str, plate: str, hose: str | None, bend_k: float, degc: float) -> None:
        self.spec, self.loop, self.plate, self.hose, self.bend_k, self.degc = spec, loop, plate, hose, bend_k, degc
        self.speed = spec.pump[spec.loop[loop].pump.removeprefix("pump.")].speed
        self._at = cache(self._solve)

    def at(self, length: float, bends: int) -> tuple[float, float]:
        """Flow of the pump, m³/s, and the plate's own drop, Pa."""
        flows, drop = self._at(round(length / LENGTH_STEP), bends)
        return flows["pump"], drop

    def _solve(self, steps: int, bends: int) -> tuple[Flows, float]:
        spec = self.spec
        if self.hose is not None and steps + bends > 0:
            old = spec.hose[self.hose]
            new = {"length": old.length + steps * LENGTH_STEP}
            new["loss_coefficient"] = old.loss_coefficient + bends * self.bend_k
            spec = spec.model_copy(update={"hose": {**spec.hose, self.hose: old.model_copy(update=new)}})
        hydraulics = LoopHydraulics(spec, spec.loop[self.loop])
        flows = hydraulics.flows(self.degc, self.speed)
        address = f"plate.{self.plate}"
        return flows, hydraulics.passages[address].drop(flows[address], hydraulics.liquid(self.degc))

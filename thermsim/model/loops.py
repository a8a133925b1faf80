"""Loops: coolant marches through hoses, plates, blocks, reservoir and radiator, and mixes where branches meet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot

import numpy as np

from thermsim.case.flow import Loop, Radiator
from thermsim.case.running import Mishap
from thermsim.case.solid import Plate
from thermsim.model.arrays import Floats, Ints
from thermsim.model.fill import Fill, fills
from thermsim.model.hydraulics import Branches, Series, elements, path_length, read_path, tube_area
from thermsim.model.links import Formula
from thermsim.model.operating import MINIMUM_STREAM, Conditions
from thermsim.model.site import Site
from thermsim.physics.coolants import coolant
from thermsim.physics.ducts import nusselt, rectangular_duct, regime, reynolds
from thermsim.physics.exchangers import exchange_conductance

JUNCTION_VOLUME = 1e-6  # m³ of coolant where branches part or meet

Source = tuple[int, str]  # a node, and the element whose flow leaves it


@dataclass
class LoopBuilder:
    """Lays one loop's coolant nodes and streams; `moving` gathers the nodes whose temperature sets the viscosity."""

    site: Site
    name: str
    loop: Loop
    heat_density: float  # of the coolant, J/m³K
    fill: Fill
    moving: list[int] = field(default_factory=list)

    def lay(self) -> Ints:
        """Lay the circuit from the pump round to the pump again; returns the moving coolant's nodes."""
        pump = self._node(f"loop.{self.name} pump", JUNCTION_VOLUME)
        ends = self._series(read_path(self.loop.path), [(pump, "pump")])
        self._stream(f"loop.{self.name} return", ends, pump)
        return np.array(self.moving or [pump])

    def _node(self, name: str, volume: float) -> int:
        return self.site.builder.add_node(name, volume * self.heat_density)

    def _series(self, series: Series, sources: list[Source]) -> list[Source]:
        for item in series:
            sources = self._element(item, sources) if isinstance(item, str) else self._branches(item, sources)
        return sources

    def _branches(self, branches: Branches, sources: list[Source]) -> list[Source]:
        fork = self._single(sources)
        ends: list[Source] = []
        for way in branches.ways:
            # what enters a branch is that branch's flow, not the fork's
            ends += self._series(way, [(fork[0], elements(way)[0])])
        return ends

    def _single(self, sources: list[Source]) -> Source:
        """One node that all sources flow into (they may already be one)."""
        if len(sources) == 1:
            return sources[0]
        junction = self._node(f"loop.{self.name} junction {self.site.builder.node_count}", JUNCTION_VOLUME)
        self._stream(f"loop.{self.name} junction", sources, junction)
        return junction, sources[0][1]

    def _element(self, address: str, sources: list[Source]) -> list[Source]:
        kind, name = address.split(".", 1)
        if kind == "radiator":
            sources = [self._single(sources)]
        nodes = self._nodes(kind, name, address)
        if kind != "reservoir":
            self.moving += [int(node) for node in nodes]
        grooves = len(self.site.spec.plate[name].channel.grooves) if kind == "plate" else 1
        ways = np.split(nodes, grooves)
        for way in ways:
            self._stream(address, sources, int(way[0]), address, grooves)
            if way.size > 1:
                self.site.builder.link(
                    f"{address} stream", "coolant stream", way[1:], way[:-1], 1 / grooves, mutual=False,
                    law=self._rate(address),
                )  # fmt: skip
        if kind == "radiator":
            add_radiator(self.site, self.name, name, sources[0][0], int(nodes[0]))
        if grooves == 1:
            return [(int(nodes[-1]), address)]
        outlet = self._node(f"{address} outlet", JUNCTION_VOLUME)
        self._stream(f"{address} outlet", [(int(way[-1]), address) for way in ways], outlet, grooves=grooves)
        return [(outlet, address)]

    def _stream(
        self, label: str, sources: list[Source], node: int, flow_of: str | None = None, grooves: int = 1
    ) -> None:
        """Coolant into a node; its flow is the receiving element's, or each source's where branches meet.

        Of an element with several grooves each carries an even share.
        """
        for source, source_flow in sources:
            flow = flow_of if flow_of is not None and len(sources) == 1 else source_flow
            self.site.builder.link(
                f"{label} feed", "coolant stream", [node], [source], [1 / grooves], mutual=False, law=self._rate(flow)
            )

    def _rate(self, element: str) -> Formula:
        loop = self.name
        return lambda now: max(now.loops[loop].capacity_rate(element), MINIMUM_STREAM)

    def _nodes(self, kind: str, name: str, address: str) -> Ints:
        """The coolant nodes of an element, with what they exchange heat with."""
        spec, builder = self.site.spec, self.site.builder
        heat_density = self.heat_density * self.fill.left_in(kind)
        if kind == "hose":
            hose = spec.hose[name]
            volume = tube_area(hose.bore) * hose.length / hose.segments
            nodes = builder.add_nodes(address, np.full(hose.segments, volume * heat_density))
            if hose.loss > 0:
                room = np.full(nodes.size, builder.place("room"))
                builder.link(f"{address} loss", "film", nodes, room, hose.loss * hose.length / hose.segments)
            return nodes
        if kind == "plate":
            return add_channel(self.site, self.name, address, spec.plate[name], heat_density)
        if kind == "radiator":
            radiator = spec.radiator[name]
            capacity = radiator.volume * heat_density + (radiator.heat_capacity or 0.0)
            return builder.add_nodes(address, capacity)
        if kind == "block":
            return self._block(name, address, heat_density)
        reservoir = spec.reservoir[name]
        nodes = builder.add_nodes(address, reservoir.volume * heat_density)
        if reservoir.loss > 0:
            builder.link(f"{address} loss", "film", nodes, [builder.place("room")], reservoir.loss)
        return nodes

    def _block(self, name: str, address: str, heat_density: float) -> Ints:
        block, builder, loop = self.site.spec.block[name], self.site.builder, self.name
        metal = builder.add_node(address, block.heat_capacity or 0.0)
        nodes = builder.add_nodes(f"{address} coolant", block.volume * heat_density)
        base, rated, exponent = 1 / block.resistance, block.at_flow, block.exponent or 0.0
        still = 1 / block.still if block.still else 0.0

        def law(now: Conditions) -> float:
            point = now.loops[loop]
            to_entering = base
            if rated is not None:
                to_entering *= (point.flows[address] / rated) ** exponent
            # the node is the coolant that leaves, warmer by this share of the difference; at a trickle the
            # measured value no longer holds, and the share is bounded
            warmed = min(to_entering / max(point.capacity_rate(address), MINIMUM_STREAM), 0.5)
            return max(to_entering / (1 - warmed), still)

        builder.link(f"{address} to coolant", "channel film", [metal], nodes, 1.0, law=law)
        return nodes


def add_loops(site: Site, mishaps: Iterable[Mishap] = ()) -> dict[str, Ints]:
    """Lay every loop with the coolant that mishaps leave it from the start; returns each one's coolant nodes.

    A steady state does not depend on it while the pump still moves the coolant.
    """
    laid, left = {}, fills(site.spec, mishaps)
    for name, loop in site.spec.loop.items():
        liquid = coolant(loop.coolant, loop.fraction, loop.fraction_by).at(site.spec.room.temperature)
        laid[name] = LoopBuilder(site, name, loop, liquid.density * liquid.cp, left[name]).lay()
    return laid


def add_channel(site: Site, loop: str, address: str, plate: Plate, heat_density: float) -> Ints:
    """Coolant cells along a plate's grooves, one groove after another, and the film to the metal they pass."""
    channel = plate.channel
    grooves = channel.grooves
    duct = rectangular_duct(channel.width, channel.depth, channel.heated_walls)
    volumes = [duct.area * path_length(path) / channel.segments for path in grooves]
    nodes = site.builder.add_nodes(f"{address} coolant", np.repeat(volumes, channel.segments) * heat_density)
    entry = duct.hydraulic_diameter / path_length(channel.path) if channel.entry == "developing" else 0.0

    def law(now: Conditions) -> float:
        point = now.loops[loop]
        liquid = point.liquid
        re = reynolds(duct, point.flows[address] / len(grooves), liquid.density, liquid.viscosity)
        found = nusselt(re, liquid.prandtl, duct.laminar_nu, entry)
        now.used.add((address, found.name, regime(re)))
        return float(found.value * liquid.conductivity / duct.hydraulic_diameter)

    for path, way in zip(grooves, np.split(nodes, len(grooves)), strict=True):
        cell, segment, run = trace(site, address, path, channel.segments)
        site.builder.link(
            f"{address} channel", "channel film", cell, way[segment], run * duct.heated_perimeter, law=law
        )
    return nodes


def trace(site: Site, address: str, path: tuple[tuple[float, float], ...], segments: int) -> tuple[Ints, Ints, Floats]:
    """Walk the path: for each stretch, the plate's cell, the coolant segment, and its length (m); shape (n,).

    Stretches end where the path crosses a grid line or a segment ends, so lengths are exact; one that runs along a
    grid line is shared by the cells on either side.
    """
    sheet = site.sheets[address]
    total = path_length(path)
    cuts = np.arange(1, segments) * total / segments
    cells, owners, runs = [], [], []
    walked = 0.0
    for (xa, ya), (xb, yb) in pairwise(path):
        leg = hypot(xb - xa, yb - ya)
        at = [0.0, 1.0]
        for lines, a, b in ((sheet.x, xa, xb), (sheet.y, ya, yb)):
            if a != b:
                at += list((lines - a) / (b - a))
        at += list((cuts - walked) / leg)
        stops = np.unique(np.clip(at, 0.0, 1.0))
        middle, share = (stops[1:] + stops[:-1]) / 2, np.diff(stops)
        for t, part in zip(middle, share, strict=True):
            touched = sheet.cells_at(xa + t * (xb - xa), ya + t * (yb - ya))
            cells.append(touched)
            owners.append(np.full(touched.size, min(int((walked + t * leg) / total * segments), segments - 1)))
            runs.append(np.full(touched.size, part * leg / max(touched.size, 1)))
        walked += leg
    return np.concatenate(cells), np.concatenate(owners), np.concatenate(runs)


def add_radiator(site: Site, loop: str, name: str, coolant_in: int, coolant_out: int) -> None:
    """Exchange between entering coolant and entering air by effectiveness; still exchange when either stops.

    Both leaving nodes feel both entering ones: what the coolant loses the air gains, at any flow.
    """
    radiator: Radiator = site.spec.radiator[name]
    airway = radiator.airway
    air_in, air_out = _air_station(site, name, airway)
    address = f"radiator.{name}"

    def forced(now: Conditions) -> float:
        air = now.air[airway]
        ua = radiator.conductance * (air.flow / radiator.at_flow) ** radiator.exponent
        return exchange_conductance(ua, now.loops[loop].capacity_rate(address), air.capacity_rate, radiator.arrangement)

    def still(now: Conditions) -> float:
        return max(radiator.still - forced(now), 0.0)

    site.builder.link(
        address, "exchanger",
        [coolant_out, coolant_out, air_out, air_out], [air_in, coolant_in, coolant_in, air_in],
        [1.0, -1.0, 1.0, -1.0], mutual=False, law=forced,
    )  # fmt: skip
    if radiator.still > 0:
        site.builder.link(f"{address} still", "film", [coolant_out], [site.builder.place("room")], 1.0, law=still)


def _air_station(site: Site, name: str, airway: str) -> tuple[int, int]:
    """The air nodes before and after a radiator; one and the same where a fan only stirs."""
    chain = site.chains[airway]
    if site.spec.airway[airway].returns:
        mixed = int(site.streams[airway].node_along(np.array([0.5]))[0])
        return mixed, mixed
    here = [r for r, table in site.spec.radiator.items() if table.airway == airway]
    drawn = site.spec.airway[airway].corner is not None
    if not drawn:
        index = here.index(name)
        return int(chain[index]), int(chain[index + 1])
    at_inlet = [r for r in here if site.spec.radiator[r].place == "inlet"]
    if name in at_inlet:
        index = at_inlet.index(name)
        return int(chain[index]), int(chain[index + 1])
    at_outlet = [r for r in here if r not in at_inlet]
    index = len(chain) - 1 - len(at_outlet) + at_outlet.index(name)
    return int(chain[index]), int(chain[index + 1])

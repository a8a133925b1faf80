"""Finned sinks: a node each, and its film to the air over it, measured or from the fins."""

from __future__ import annotations

import numpy as np

from thermsim.case.flow import Sink
from thermsim.model.arrays import Ints
from thermsim.model.films import LEAST_RISE
from thermsim.model.fins import Fins
from thermsim.model.links import Formula, Law, Mean
from thermsim.model.operating import MINIMUM_STREAM, Conditions
from thermsim.model.site import Site
from thermsim.physics.fins import natural_gap_film


def add_sinks(site: Site) -> None:
    """A node per sink and its film to the air over it."""
    for name, sink in site.spec.sink.items():
        node = site.builder.add_node(f"sink.{name}", sink.heat_capacity or 0.0)
        airway = sink.airway
        stream_ = site.streams[airway]
        footprint = site.footprint(sink.on)
        if sink.along is not None:
            air = stream_.node_along(np.array([sink.along]))
        elif footprint is not None:
            (x, y), (width, depth) = footprint
            air = stream_.node_at(np.array([x + width / 2]), np.array([y + depth / 2]))
        else:
            air = stream_.node_along(np.array([0.5]))
        way = site.spec.airway[airway]
        if sink.resistance is not None:
            conductance = measured(sink, airway, way.returns)
        else:
            conductance = finned(f"sink.{name}", sink, airway, Fins.of(sink, way))
        law = rising(Fins.of(sink, way), conductance, air, node) if sink.upright else conductance
        site.builder.link(f"sink.{name}", "film", [node], air, 1.0, law=law)


def measured(sink: Sink, airway: str, stirred: bool) -> Formula:
    """A sink's conductance from its measured resistance, moving with flow; never under its still value.

    Measured against the air that enters. The node is the air that leaves, warmer by a share of the difference;
    at a trickle the measured value no longer holds, and the share is bounded.
    """
    assert sink.resistance is not None
    base, at_flow, exponent = 1 / sink.resistance, sink.at_flow, sink.exponent or 0.0
    still = 1 / sink.still if sink.still else 0.0
    if at_flow is None:
        return lambda now: base
    rated = at_flow

    def law(now: Conditions) -> float:
        air = now.air[airway]
        to_entering = float(base * (air.flow / rated) ** exponent)
        warmed = 0.0 if stirred else min(to_entering / max(air.capacity_rate, MINIMUM_STREAM), 0.5)
        return max(to_entering / (1 - warmed), still)

    return law


def finned(address: str, sink: Sink, airway: str, fins: Fins) -> Formula:
    """A sink's conductance from its fins; never under its still value."""
    still = 1 / sink.still if sink.still else 0.0

    def law(now: Conditions) -> float:
        air = now.air[airway]
        if fins.velocity(air.flow) <= 0:
            return still
        film = fins.film(air.flow, air.state)
        now.used.add((address, film.name, film.regime))
        return max(fins.conductance(film.value), still)

    return law


def rising(fins: Fins, forced: Formula, air: Ints, node: int) -> Law:
    """A sink's conductance with what air that rises through its upright gaps takes, whichever is more.

    Natural convection between vertical fins (Bar-Cohen & Rohsenow 1984), from fins and air over them.
    """
    one = np.ones(1)

    def law(now: Conditions, around: float, metal: float) -> float:
        rise = max(abs(metal - around), LEAST_RISE)
        film = natural_gap_film(around + rise, around, fins.gap, fins.along, now.pressure)
        return max(float(forced(now)), fins.conductance(film))

    return Law(law, (Mean(air, one), Mean(np.array([node]), one)))

"""Which nodes of a model a temperature channel of a log reads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.case.channels import split_channel
from thermsim.model.arrays import Floats
from thermsim.model.links import LinkGroup
from thermsim.model.operating import Conditions
from thermsim.model.system import Model
from thermsim.solve.governors import sensor_nodes

COOLANT_KINDS = ("plate", "block", "radiator", "hose", "reservoir")


@dataclass(frozen=True)
class Spot:
    """Nodes whose mean is read; where several streams meet there, by what each carries (`streams`, one a node)."""

    nodes: tuple[int, ...]
    streams: tuple[LinkGroup, ...] = ()

    def shares(self, now: Conditions) -> Floats:
        """Share of each node, shape (nodes,)."""
        if len(self.nodes) == 1:
            return np.ones(1)
        carried = np.array([float(np.mean(group.law(now))) if group.law else 1.0 for group in self.streams])
        shares: Floats = carried / carried.sum()
        return shares


def spot_of(model: Model, channel: str) -> Spot | None:
    """Where a channel reads the model; None where it is no temperature of a node, or what it names is not there."""
    spec = model.case.spec
    kind, name, quantity = split_channel(channel)
    if kind in ("part", "probe") and name in getattr(spec, kind) and not quantity:
        return Spot((int(sensor_nodes(model, f"{kind}.{name}")[0]),))
    if kind == "airway" and name in spec.airway:
        return _air_spot(model, name, quantity)
    if kind in COOLANT_KINDS and quantity in ("inlet", "outlet"):
        return _coolant_spot(model, f"{kind}.{name}", quantity)
    return None


def _air_spot(model: Model, name: str, end: str) -> Spot | None:
    if end == "outlet":
        return Spot((int(model.site.chains[name][-1]),))
    feed = model.operating.feeds[name]
    return Spot((feed,)) if end == "inlet" and feed < model.node_count else None


def _coolant_spot(model: Model, address: str, end: str) -> Spot | None:
    """Coolant where it enters an element (as it leaves what comes before) or leaves it."""
    feeds = [group for group in model.groups if group.name == f"{address} feed"]
    if not feeds:
        return None
    if end == "inlet":
        first = [group for group in feeds if group.receiver[0] == feeds[0].receiver[0]]  # one of grooves side by side
        return Spot(tuple(int(group.sender[0]) for group in first), tuple(first))
    names = model.site.builder.names
    for known in (f"{address} outlet", f"{address} coolant", address):
        if known in names:
            return Spot((int(names[known][-1]),))
    return None

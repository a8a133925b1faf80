"""Where the heat goes: what each link group carries out of the system."""

from __future__ import annotations

from thermsim.model.arrays import Floats
from thermsim.model.links import LinkGroup
from thermsim.model.operating import Conditions
from thermsim.model.system import Model, Strengths

INTERNAL = {"conduction", "joint", "part", "heat pipe", "channel film", "coolant stream", "exchanger"}


def outflows(model: Model, now: Conditions, strengths: Strengths) -> dict[str, float]:
    """Watts leaving through each group that reaches a place: films, edges, air streams.

    Their sum is the heat supplied less the heat being stored.
    """
    found: dict[str, float] = {}
    for k, group in enumerate(model.groups):
        if group.kind in INTERNAL and not (group.sender >= model.node_count).any():
            continue
        watts = _outward(model, group, strengths.get(k, 1.0), now.temperature)
        if watts is not None:
            label = group.name.removesuffix(" radiation")
            found[label] = found.get(label, 0.0) + watts
    return found


def _outward(model: Model, group: LinkGroup, strength: float | Floats, temperature: Floats) -> float | None:
    moved = model.flow(group, strength, temperature)
    if not group.mutual:
        return float(moved.sum()) if group.kind == "stream" else None
    outside = group.sender >= model.node_count
    return float(moved[outside].sum()) if outside.any() else None


def through(model: Model, now: Conditions, strengths: Strengths, name: str) -> float:
    """Watts through a mutual group from receivers to senders (a joint, a sink, a channel's film)."""
    total = 0.0
    for k, group in enumerate(model.groups):
        if group.name == name:
            total += float(model.flow(group, strengths.get(k, 1.0), now.temperature).sum())
    return total

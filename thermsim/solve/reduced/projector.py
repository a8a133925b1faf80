"""What of a model is projected, whatever the basis: reference strengths, the groups that move, what is watched."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from thermsim.model.arrays import Ints
from thermsim.model.links import LinkGroup
from thermsim.model.operating import Conditions
from thermsim.model.system import Model, Strengths
from thermsim.solve.reduced.patches import patches_of, plan_bins

SAMPLED = 400  # cells whose change tells the size of a change, besides all lumped nodes
STILL = 1e-9  # relative change of a strength that is none


class Projector:
    """The operator at a reference state, and the groups that move away from it.

    `examples`: strengths at other states that the history passes or comes near; a group that is the same in all of
    them is taken as part of the reference.
    """

    def __init__(self, model: Model, now: Conditions, examples: Iterable[Strengths]) -> None:
        self.model = model
        self.reference = reference = model.strengths(now)
        self.matrix = model.matrix(reference)
        moving = _moving(reference, list(examples))
        self.whole: list[tuple[int, LinkGroup]] = []
        self.patched = []
        bins = plan_bins(model.site, model.node_count + model.place_count)
        for k in moving:
            group = model.groups[k]
            assert group.law is not None
            if group.law.by_link:
                patches = patches_of(group, bins)
                self.patched.append((patches, patches.strength(now)))
            else:
                self.whole.append((k, group))
        self.watched = _watched(model)


def _moving(reference: Strengths, examples: list[Strengths]) -> list[int]:
    """Numbers of the groups whose strength is not the same in all examples."""
    moving = []
    for k, at_rest in reference.items():
        scale = np.abs(at_rest).max()
        if any(np.abs(example[k] - at_rest).max() > STILL * scale for example in examples):
            moving.append(k)
    return moving


def _watched(model: Model) -> Ints:
    """All lumped nodes, and cells spread evenly."""
    lumped = np.ones(model.node_count, dtype=bool)
    for sheet in model.site.sheets.values():
        lumped[sheet.node[sheet.node >= 0]] = False
    cells = np.flatnonzero(~lumped)
    return np.concatenate((np.flatnonzero(lumped), cells[:: max(1, cells.size // SAMPLED)]))

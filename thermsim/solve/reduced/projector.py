"""What of a model is projected, whatever the basis: reference strengths, the groups that move, what is watched."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import Law, LinkGroup
from thermsim.model.operating import Conditions
from thermsim.model.system import Model, Strengths
from thermsim.solve.reduced.patches import ACROSS, SPREAD, Patches, patches_of, plan_bins

SAMPLED = 400  # cells whose change tells the size of a change, besides all lumped nodes
MOST_PIECES = 12  # that a group is cut into so that each has one strength
STILL = 1e-9  # relative change of a strength that is none


@dataclass(frozen=True)
class Moving:
    """Links that share one moving strength, its law, and what it is at the reference."""

    group: LinkGroup
    law: Law
    at_rest: float


class Projector:
    """The operator at a reference state, and the groups that move away from it.

    `examples`: strengths at other states that the history passes or comes near; a group that is the same in all of
    them is taken as part of the reference.
    """

    def __init__(self, model: Model, now: Conditions, examples: Iterable[Strengths], finer: int = 1) -> None:
        self.model = model
        self._now, self._finer = now, finer
        self.reference = reference = model.strengths(now)
        self.matrix = model.matrix(reference)
        self._examples = list(examples)
        moving = _moving(reference, self._examples)
        self.whole: list[Moving] = []
        self.patched: list[tuple[Patches, Floats]] = []
        bins = plan_bins(model.site, model.node_count + model.place_count, ACROSS * finer)
        for k in moving:
            group = model.groups[k]
            pieces = [] if group.law is None or group.law.ends else list(_of_one_strength(group))
            if 0 < len(pieces) <= MOST_PIECES:
                self.whole += [Moving(piece, law, float(np.asarray(law(now)))) for piece, law in pieces]
            else:
                patches = patches_of(group, bins, now.temperature, SPREAD / finer)
                self.patched.append((patches, patches.strength(now)))
        self.watched = _watched(model)

    def refined(self) -> Projector:
        """The same with patches half as large."""
        return Projector(self.model, self._now, self._examples, 2 * self._finer)


def _of_one_strength(group: LinkGroup) -> Iterator[tuple[LinkGroup, Law]]:
    """A group cut into links of the same given numbers, each piece with a law of one strength."""
    law = group.law
    assert law is not None
    if not law.given:
        yield group, law
        return
    values, owner = np.unique(np.stack(law.given), axis=1, return_inverse=True)
    for k, given in enumerate(values.T):
        mine = owner.ravel() == k
        ends = (group.receiver[mine], group.sender[mine], group.weight[mine])
        piece_law = law.at_given(tuple(given.tolist()))
        yield LinkGroup(group.name, group.kind, *ends, group.mutual, piece_law), piece_law


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

"""What of a model is projected, whatever the basis: reference strengths, the groups that move, what is watched."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace

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
    """Links of a group (by its number) that share one moving strength, its law, and what it is at the reference.

    `given`: the fixed numbers that its links have, see `Law`.
    """

    number: int
    given: tuple[float, ...]
    group: LinkGroup
    law: Law
    at_rest: float


class Projector:
    """The operator at a reference state, and the groups that move away from it.

    `now`: conditions at the reference; `numbers`: the groups that move, see `moving_groups`; `finer`: factor on
    the number of patches.
    """

    def __init__(self, model: Model, now: Conditions, numbers: Sequence[int], finer: int = 1) -> None:
        self.model = model
        self.now, self.finer = now, finer
        self.reference = reference = model.strengths(now)
        self.matrix = model.matrix(reference)
        self.numbers = list(numbers)
        self.whole: list[Moving] = []
        self.patched: list[tuple[Patches, Floats]] = []
        bins = plan_bins(model.site, model.node_count + model.place_count, ACROSS * finer)
        for k in self.numbers:
            group = model.groups[k]
            pieces = [] if group.law is None or group.law.ends else list(_of_one_strength(group))
            if 0 < len(pieces) <= MOST_PIECES:
                self.whole += [
                    Moving(k, given, piece, law, float(np.asarray(law(now)))) for piece, law, given in pieces
                ]
            else:
                patches = patches_of(k, group, bins, now.temperature, SPREAD / finer)
                self.patched.append((patches, patches.strength(now)))
        self.watched = _watched(model)

    def of_case(self, model: Model) -> Projector | None:
        """The same for a case of the same sheets: its laws and weights; None where other groups move, or are there.

        What does not move stays in `matrix` as it was: see `Image.of_case` for what has changed of it.
        """
        if not _same_groups(self.model, model):
            return None
        twin = copy(self)
        twin.model = model
        twin.whole = [replace(moving, law=_law_of(model, moving)) for moving in self.whole]
        twin.patched = [
            (replace(patches, group=replace(patches.group, law=model.groups[patches.number].law)), at_rest)
            for patches, at_rest in self.patched
        ]
        return twin

    def refined(self) -> Projector:
        """The same with patches half as large."""
        return Projector(self.model, self.now, self.numbers, 2 * self.finer)


def _same_groups(one: Model, other: Model) -> bool:
    """Whether two models have the same nodes and places, joined in the same way."""
    return (one.node_count, one.place_count, len(one.groups)) == (
        other.node_count, other.place_count, len(other.groups)
    ) and all(
        mine.name == theirs.name
        and (mine.law is None) == (theirs.law is None)
        and np.array_equal(mine.receiver, theirs.receiver)
        and np.array_equal(mine.sender, theirs.sender)
        for mine, theirs in zip(one.groups, other.groups, strict=True)
    )  # fmt: skip


def _law_of(model: Model, moving: Moving) -> Law:
    law = model.groups[moving.number].law
    assert law is not None
    return law.at_given(moving.given) if moving.given else law


def _of_one_strength(group: LinkGroup) -> Iterator[tuple[LinkGroup, Law, tuple[float, ...]]]:
    """A group cut into links of the same given numbers, each piece with a law of one strength."""
    law = group.law
    assert law is not None
    if not law.given:
        yield group, law, ()
        return
    values, owner = np.unique(np.stack(law.given), axis=1, return_inverse=True)
    for k, given in enumerate(values.T):
        mine = owner.ravel() == k
        ends = (group.receiver[mine], group.sender[mine], group.weight[mine])
        numbers = tuple(given.tolist())
        piece_law = law.at_given(numbers)
        yield LinkGroup(group.name, group.kind, *ends, group.mutual, piece_law), piece_law, numbers


def moving_groups(reference: Strengths, examples: Sequence[Strengths]) -> list[int]:
    """Numbers of the groups whose strength is not the same in all examples.

    These are strengths at other states that a history passes or comes near.
    """
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

"""Every pair of spots of two plates: both systems, and what each plate does to the other through box and loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.model.arrays import Floats, Ints
from thermsim.studies.place.box import BoxSide
from thermsim.studies.place.links import Facing, Link, links_of, padded
from thermsim.studies.place.loop import LoopSide
from thermsim.studies.place.rules import Verdict
from thermsim.studies.place.scan import CHUNK, felt_through, resistances

NEGLIGIBLE = 1e-7  # of the strongest way one plate acts on the other through the loop
GAP = 1e-3  # m, least between two plates

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Role:
    """One plate of a pair at every spot of its own: links at the box, its system and right side, ways to the other.

    Shapes: `box` (spots, links, box ports), `acts` (spots, links, parts), `system` (spots, links, links), `wanted`
    (spots, links), `reads` and `gives` (spots, links, ways).
    """

    box: Floats
    acts: Floats
    system: Floats
    wanted: Floats
    reads: Floats
    gives: Floats


def role(
    verdicts: Sequence[Verdict], plate: str, reads: Floats, gives: Floats, box: BoxSide, loop: LoopSide,
    faces: Sequence[Facing], more: Sequence[Link] = (),
) -> Role:  # fmt: skip
    """Prepare a plate at all its spots; `reads` and `gives`, shape (loop ports, ways), from `ways_between`."""
    pieces: list[tuple[Floats, ...]] = []
    lists = [[*links_of(one, plate, box, loop, faces), *more] for one in verdicts]
    most = max(len(links) for links in lists)
    for start in range(0, len(lists), CHUNK):
        links = padded(lists[start : start + CHUNK], most)
        system = felt_through(links.box, box.response) @ links.box.transpose(0, 2, 1)
        system += felt_through(links.loop, loop.response) @ links.loop.transpose(0, 2, 1)
        system += resistances(links.conductance)
        acts = (links.box @ box.response.T)[:, :, : len(box.parts)]
        wanted = links.box @ box.bare - links.loop @ loop.bare
        pieces.append((links.box, acts, system, wanted, links.loop @ reads, links.loop @ gives))
    return Role(*(np.concatenate(column) for column in zip(*pieces, strict=True)))


def ways_between(loop: LoopSide, here: Ints, there: Ints) -> tuple[Floats, Floats]:
    """The response of ports here to ports there as a product of few ways: (reads, gives), shape (loop ports, ways).

    Coolant carries almost all of what one plate does to another, and so one way or two are enough.
    """
    left, size, right = np.linalg.svd(loop.response[np.ix_(here, there)], full_matrices=False)
    count = max(int((size > NEGLIGIBLE * size[0]).sum()), 1)
    reads, gives = np.zeros((loop.bare.size, count)), np.zeros((loop.bare.size, count))
    reads[here] = left[:, :count] * size[:count]
    gives[there] = right[:count].T
    return reads, gives


def apart(first: Sequence[Verdict], second: Sequence[Verdict]) -> Bools:
    """Which pairs do not collide, outlines and hoses, shape (first, second)."""
    one, other = (
        _rectangles([[v.spot.outline] for v in first], GAP),
        _rectangles([[v.spot.outline] for v in second], GAP),
    )
    hoses = (
        _rectangles([[r.zone for r in v.hoses] for v in first]),
        _rectangles([[r.zone for r in v.hoses] for v in second]),
    )
    free = ~_meet(one, other)
    if hoses[0].shape[1]:
        free &= ~_meet(hoses[0], other) & ~_meet(one, hoses[1]) & ~_meet(*hoses)
    return free


def _rectangles(lists: Sequence[Sequence[tuple[float, ...]]], more: float = 0.0) -> Floats:
    """Rectangles grown by half of `more` on every side, shape (spots, rectangles, 4)."""
    found = np.array([[tuple(area) for area in areas] for areas in lists], dtype=float)
    return found + np.array([-1.0, -1.0, 1.0, 1.0]) * more / 2 if found.size else found.reshape(len(lists), 0, 4)


def _meet(first: Floats, second: Floats) -> Bools:
    met = np.zeros((first.shape[0], second.shape[0]), dtype=bool)
    for a in np.moveaxis(first, 1, 0):
        for b in np.moveaxis(second, 1, 0):
            in_x = (a[:, None, 0] < b[None, :, 2]) & (b[None, :, 0] < a[:, None, 2])
            met |= in_x & (a[:, None, 1] < b[None, :, 3]) & (b[None, :, 1] < a[:, None, 3])
    return met


def all_pairs(
    one: Role, other: Role, free: Bools, box: BoxSide, limits: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    """Worst margin of every free pair by each of two sets of limits, K, shape (first spots, second spots).

    −inf where a pair is not free.
    """
    found = np.full((2, *free.shape), -np.inf)
    bare = box.bare[: len(box.parts)]
    across = one.box @ box.response
    back = other.box @ box.response
    for i in range(free.shape[0]):
        j = np.flatnonzero(free[i])
        if j.size:
            first, second = _heat(one, other, across[i], back[j], i, j)
            fall = first @ one.acts[i] + (second[:, None] @ other.acts[j])[:, 0]
            for k, limit in enumerate(limits):
                found[k, i, j] = (limit - bare + fall).min(axis=1)
    return found[0], found[1]


def taken_by(one: Role, other: Role, box: BoxSide, pair: tuple[int, int]) -> Floats:
    """Heat that one pair takes at the box's ports, W, shape (box ports,)."""
    i, j = pair[0], np.array([pair[1]])
    first, second = _heat(one, other, one.box[i] @ box.response, other.box[j] @ box.response, i, j)
    taken: Floats = first[0] @ one.box[i] + second[0] @ other.box[pair[1]]
    return taken


def _heat(one: Role, other: Role, across: Floats, back: Floats, i: int, j: Ints) -> tuple[Floats, Floats]:
    """Heat through every link of plate one at spot i and the other at spots j, W, each of shape (j, links)."""
    felt = across @ other.box[j].transpose(0, 2, 1) + one.reads[i] @ other.gives[j].transpose(0, 2, 1)
    done = back @ one.box[i].T + other.reads[j] @ one.gives[i].T
    alone = np.linalg.inv(one.system[i])
    through = done @ alone
    system = other.system[j] - through @ felt
    second = np.linalg.solve(system, (other.wanted[j] - through @ one.wanted[i])[:, :, None])
    first = alone @ (one.wanted[i][:, None] - felt @ second)
    return first[:, :, 0], second[:, :, 0]

"""Every pair of allowed spots of two plates, in series or in parallel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.studies.place.laid import Laid
from thermsim.studies.place.links import block_links, facings
from thermsim.studies.place.loop import FlowOf, LoopSide
from thermsim.studies.place.pairs import Bools, Role, all_pairs, apart, role, taken_by, ways_between
from thermsim.studies.place.rules import Verdict
from thermsim.studies.place.scan import ranked
from thermsim.studies.place.search import Found, Screening
from thermsim.studies.place.setup import Search
from thermsim.studies.place.sides import loop_tables
from thermsim.studies.place.tables import case_of

FEW = 60  # spots of each plate that are paired first, to find where to take the laws
CELLS = 300  # of each plate


@dataclass(frozen=True)
class Pairs:
    """Spots of both plates and the worst margin of every pair, K, −inf where they collide; `own`: of their sheet."""

    first: list[Verdict]
    second: list[Verdict]
    margins: Floats
    own: Floats

    @property
    def count(self) -> int:
        """Pairs that were settled."""
        return int(np.isfinite(self.margins).sum())

    def best(self, count: int) -> list[tuple[int, int]]:
        """Best pairs, best first."""
        order = ranked(self.margins.ravel(), self.own.ravel())[: min(count, self.count)]
        return [(int(k) // self.margins.shape[1], int(k) % self.margins.shape[1]) for k in order]


def search_pairs(screening: Screening, found: Found, arrangement: str) -> Pairs:
    """Settle every pair; the box's laws are taken where the best of a few pairs leaves it, the flow is one for all.

    `found`: what `screening.single()` gave.
    """
    search, box = screening.search, screening.box
    first, second = _spots(search, found)
    free = apart(first, second)
    if arrangement == "parallel" and first is second:
        free = np.triu(free)  # which of two alike comes first makes no difference
    if not free.any():
        none = np.full(free.shape, -np.inf)
        return Pairs(first, second, none, none)
    loop = _loop(screening, (first, second), free, arrangement)
    few = np.zeros_like(free)
    few[np.ix_(*(range(0, count, -(-count // FEW)) for count in free.shape))] = True
    if (few & free).any():
        roles = _roles(screening, first, second, loop)
        best = Pairs(first, second, *all_pairs(*roles, few & free, box, screening.limits())).best(1)[0]
        box.linearise(box.field(taken_by(*roles, box, best)))
    roles = _roles(screening, first, second, loop)
    return Pairs(first, second, *all_pairs(*roles, free, box, screening.limits()))


def laid_pair(search: Search, pair: tuple[Verdict, Verdict]) -> list[Laid]:
    """Both plates of a pair as they lie."""
    assert search.second is not None
    both = zip((search.first, search.second), pair, strict=True)
    return [Laid.by(one.plate, verdict, one.layout) for one, verdict in both]


def _spots(search: Search, found: Found) -> tuple[list[Verdict], list[Verdict]]:
    """Allowed spots of either plate; one and the same list where the second is a copy of the first."""
    assert search.second is not None
    first = [found.verdicts[k] for k in found.allowed]
    if search.second.rules is search.first.rules:
        return first, first
    return first, [one for one in search.verdicts(search.second) if one.allowed]


def _roles(
    screening: Screening, first: Sequence[Verdict], second: Sequence[Verdict], loop: LoopSide
) -> tuple[Role, Role]:
    """Both plates at all their spots, and what each does to the other."""
    search, box = screening.search, screening.box
    assert search.second is not None
    names = search.first.plate, search.second.plate
    here, there = (np.arange(loop.plates[name][0].start, loop.plates[name][0].stop) for name in names)
    here = np.r_[here, np.array(list(loop.blocks.values()), dtype=np.int64)]
    reads_one, gives_other = ways_between(loop, here, there)
    reads_other, gives_one = ways_between(loop, there, here)
    faces = screening.faces if first is second else facings(search.now, names[1])
    return (
        role(first, names[0], reads_one, gives_one, box, loop, screening.faces, block_links(search.spec, box, loop)),
        role(second, names[1], reads_other, gives_other, box, loop, faces),
    )


def _loop(
    screening: Screening, spots: tuple[Sequence[Verdict], Sequence[Verdict]], free: Bools, arrangement: str
) -> LoopSide:
    """The loop through two plates, with the hoses of a pair from the middle of those that are free."""
    search = screening.search
    pairs = np.argwhere(free)
    i, j = pairs[len(pairs) // 2]
    laid = laid_pair(search, (spots[0][i], spots[1][j]))
    raw = screening.in_own_frames(search.tables(), laid, arrangement, search.plumbing)
    cell = screening.plate_cell(CELLS)
    spec = case_of(loop_tables(raw, search.loop, cell)).spec
    flow, _ = FlowOf(spec, search.loop, laid[0].plate, None, 0.0, screening.coolant_degc).at(0.0, 0)
    watts = {f"plate.{one.plate}": sum(screening.watts.values()) / 2 for one in laid}
    return LoopSide(raw, search.loop, flow, cell, watts)

"""The search itself: judge every spot, settle the allowed ones by ports, singly and in pairs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import sqrt

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.studies.place_box import BoxSide
from thermsim.studies.place_links import Facing, block_links, facings
from thermsim.studies.place_loop import MOST_CELLS, FlowOf, LoopSide
from thermsim.studies.place_pairs import Bools, Role, all_pairs, apart, role, taken_by, ways_between
from thermsim.studies.place_rules import Verdict
from thermsim.studies.place_scan import Between, Scan, limits_of, ranked, scan
from thermsim.studies.place_setup import Candidate, Search
from thermsim.studies.place_sides import box_tables, loop_tables
from thermsim.studies.place_spot import Spot
from thermsim.studies.place_tables import Laid, Raw, case_of, hoses_about, laid_out, lay

MOST_PASSES = 4
STEADY = 0.02  # K, change of the best margin by taking the laws anew at the best spot
FEW = 60  # spots of each plate that are paired first, to find where to take the laws
CELLS_OF_A_PAIR = 300  # of each plate


@dataclass(frozen=True)
class Found:
    """All spots of the first plate: verdicts, and for the allowed ones (`allowed` counts them) what was found."""

    verdicts: list[Verdict]
    allowed: Ints
    scan: Scan | None
    flows: Floats  # m³/s
    drops: Floats  # Pa, of the plate
    margins: Floats
    own: Floats  # margins of the parts on the plate's sheet alone, K

    def best(self, count: int) -> Ints:
        """Numbers among the allowed, best first."""
        return ranked(self.margins, self.own)[:count]

    def verdict(self, k: int) -> Verdict:
        """Of the k-th allowed spot."""
        return self.verdicts[int(self.allowed[k])]


@dataclass
class Screening:
    """Holds both sides of one search; `single` comes before `pairs`."""

    search: Search
    box: BoxSide = field(init=False)
    faces: list[Facing] = field(init=False)
    watts: dict[str, float] = field(init=False)
    coolant_degc: float = field(init=False)
    passes: int = 0

    def __post_init__(self) -> None:
        search = self.search
        self.tables = search.tables()
        self.faces = facings(search.now, search.first.plate)
        airways = {face.address.removeprefix("airway.") for face in self.faces if face.address.startswith("airway.")}
        sheets = {face.address for face in self.faces if not face.address.startswith("airway.")}
        names = [search.first.plate] + ([search.second.plate] if search.second else [])
        self.bare_case = case_of(box_tables(self.tables, names, search.loop))
        self.box = BoxSide(self.bare_case, sorted(airways), sorted(sheets))
        self.coolant_degc = search.now.steady.conditions.loops[search.loop].temperature_degc
        total = float(self.box.inputs.watts.sum())
        self.watts = {f"plate.{search.first.plate}": total}

    def single(self) -> Found:
        """Every spot of the first plate; the laws are taken where the best spot found so far leaves the box."""
        search = self.search
        verdicts = search.verdicts(search.first)
        allowed = np.array([k for k, one in enumerate(verdicts) if one.allowed], dtype=np.int64)
        some = [verdicts[k] for k in allowed]
        if not some:
            empty = np.zeros(0)
            return Found(verdicts, allowed, None, empty, empty, empty, empty)
        limits, of_sheet, last = *self._limits(), np.inf
        temperature: Floats | None = None
        while True:
            self.box.linearise(temperature)
            self.passes += 1
            flows, drops = self._flows(some)
            loops = self._loops(some[0], flows)
            more = block_links(search.spec, self.box, loops.low)
            found = scan(some, flows, search.first.plate, self.box, loops, self.faces, more)
            margins, own = found.margins(limits), found.margins(of_sheet)
            best = int(ranked(margins, own)[0])
            if abs(margins[best] - last) < STEADY or self.passes == MOST_PASSES:
                return Found(verdicts, allowed, found, flows, drops, margins, own)
            last = margins[best]
            temperature = self.box.field(found.taken[best])
            self._heat(loops.low, found.into_loop[best])

    def _limits(self) -> tuple[Floats, Floats]:
        spec = self.box.case.spec
        return limits_of(spec), limits_of(spec, self.search.on)

    def _heat(self, loop: LoopSide, into: Floats) -> None:
        """Watts by address that the loop takes, from its ports, and the coolant's temperature."""
        self.coolant_degc = loop.coolant_degc
        self.watts = {f"plate.{name}": float(into[where].sum()) for name, (where, _) in loop.plates.items()}
        self.watts |= {address: float(into[k]) for address, k in loop.blocks.items()}

    def _flows(self, some: Sequence[Verdict]) -> tuple[Floats, Floats]:
        """Flow and the plate's drop at every spot, with the hoses it needs."""
        search, plate = self.search, self.search.first.plate
        raw = self._laid([Laid.by(plate, some[0], search.first.layout)], "series", hoses=False)
        spec = case_of(loop_tables(raw, search.loop, self._cell(MOST_CELLS))).spec
        hose = next((name for name in hoses_about(raw["loop"][search.loop]["path"], plate) if name), None)
        bend = search.plumbing.bend_k if search.plumbing else 0.0
        flow = FlowOf(spec, search.loop, plate, hose, bend, self.coolant_degc)
        found = np.array([flow.at(one.hose_length, sum(route.bends for route in one.hoses)) for one in some])
        return found[:, 0], found[:, 1]

    def _laid(self, laid: Sequence[Laid], arrangement: str, *, hoses: bool = True) -> Raw:
        """Tables with the loop led so, its plates lying in their own frames."""
        raw = laid_out(self.tables, laid, arrangement, self.search.plumbing if hoses else None)
        for one in laid:
            lay(raw["plate"][one.plate], replace(one, spot=Spot((0.0, 0.0), 0, one.spot.size)))
        return raw

    def _cell(self, most: int) -> float:
        """Cell of the loop's plates, m: as in the case, but no more of them than `most`."""
        width, depth = self.search.first.size
        return max(self.search.spec.run.cell, sqrt(width * depth / most))

    def _loops(self, one: Verdict, flows: Floats) -> Between:
        search = self.search
        raw = self._laid([Laid.by(search.first.plate, one, search.first.layout)], "series", hoses=False)
        low, high = float(flows.min()), float(flows.max())
        cell = self._cell(MOST_CELLS)
        first = LoopSide(raw, search.loop, low, cell, self.watts)
        same = high - low < 1e-3 * high
        return Between(first, first if same else LoopSide(raw, search.loop, high, cell, self.watts))

    def pairs(self, found: Found, arrangement: str) -> Pairs:
        """Every pair of allowed spots of both plates; the laws are taken where the best of a few pairs leaves the box.

        The flow is that of one pair for all.
        """
        search = self.search
        assert search.second is not None
        first = [found.verdicts[k] for k in found.allowed]
        same = search.second.rules is search.first.rules
        second = first if same else [one for one in search.verdicts(search.second) if one.allowed]
        free = apart(first, second)
        if same and arrangement == "parallel":
            free = np.triu(free)
        if not free.any():
            none = np.full(free.shape, -np.inf)
            return Pairs(first, second, none, none)
        loop = self._pair_loop((first, second), free, arrangement)
        few = np.zeros_like(free)
        few[np.ix_(*(range(0, count, -(-count // FEW)) for count in free.shape))] = True
        few &= free
        if few.any():
            roles = self._roles(first, second, loop)
            margins, own = all_pairs(*roles, few, self.box, self._limits())
            best = Pairs(first, second, margins, own).best(1)[0]
            self.box.linearise(self.box.field(taken_by(*roles, self.box, best)))
        margins, own = all_pairs(*self._roles(first, second, loop), free, self.box, self._limits())
        return Pairs(first, second, margins, own)

    def _roles(self, first: Sequence[Verdict], second: Sequence[Verdict], loop: LoopSide) -> tuple[Role, Role]:
        """Both plates at all their spots, and what each does to the other."""
        search = self.search
        assert search.second is not None
        names = search.first.plate, search.second.plate
        here, there = (np.arange(loop.plates[name][0].start, loop.plates[name][0].stop) for name in names)
        here = np.r_[here, np.array(list(loop.blocks.values()), dtype=np.int64)]
        reads_one, gives_other = ways_between(loop, here, there)
        reads_other, gives_one = ways_between(loop, there, here)
        more = block_links(search.spec, self.box, loop)
        copied = search.second.rules is search.first.rules
        faces = self.faces if copied else facings(search.now, names[1])
        return (
            role(first, names[0], reads_one, gives_one, self.box, loop, self.faces, more),
            role(second, names[1], reads_other, gives_other, self.box, loop, faces),
        )

    def _pair_loop(self, spots: tuple[Sequence[Verdict], Sequence[Verdict]], free: Bools, arrangement: str) -> LoopSide:
        """The loop through two plates, with the hoses of a pair from the middle of those that are free."""
        search = self.search
        pairs = np.argwhere(free)
        i, j = pairs[len(pairs) // 2]
        laid = laid_pair(search, (spots[0][i], spots[1][j]))
        raw = self._laid(laid, arrangement)
        cell = self._cell(CELLS_OF_A_PAIR)
        spec = case_of(loop_tables(raw, search.loop, cell)).spec
        flow, _ = FlowOf(spec, search.loop, laid[0].plate, None, 0.0, self.coolant_degc).at(0.0, 0)
        total = sum(self.watts.values())
        watts = {f"plate.{one.plate}": total / 2 for one in laid}
        return LoopSide(raw, search.loop, flow, cell, watts)


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


def laid_pair(search: Search, pair: tuple[Verdict, Verdict]) -> list[Laid]:
    """Both plates of a pair as they lie."""
    candidates: list[Candidate | None] = [search.first, search.second]
    return [Laid.by(one.plate, verdict, one.layout) for one, verdict in zip(candidates, pair, strict=True) if one]

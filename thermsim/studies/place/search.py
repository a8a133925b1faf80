"""The search itself: judge every spot of a plate, settle the allowed ones by ports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import sqrt

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.studies.place.box import BoxSide
from thermsim.studies.place.laid import Laid, Raw
from thermsim.studies.place.links import Facing, block_links, facings
from thermsim.studies.place.loop import MOST_CELLS, FlowOf, LoopSide
from thermsim.studies.place.plumbing import Plumbing, hoses_about
from thermsim.studies.place.rules import Verdict
from thermsim.studies.place.scan import Between, Scan, limits_of, ranked, scan
from thermsim.studies.place.setup import Search
from thermsim.studies.place.sides import box_tables, loop_tables
from thermsim.studies.place.spot import Spot
from thermsim.studies.place.tables import case_of, laid_out, lay

MOST_PASSES = 4
STEADY = 0.02  # K, change of the best margin by taking the laws anew at the best spot


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
    """Holds both sides of one search; pairs are searched from what `single` leaves."""

    search: Search
    box: BoxSide = field(init=False)
    faces: list[Facing] = field(init=False)
    watts: dict[str, float] = field(init=False)
    coolant_degc: float = field(init=False)
    passes: int = 0

    def __post_init__(self) -> None:
        search = self.search
        self.faces = facings(search.now, search.first.plate)
        airways = {face.address.removeprefix("airway.") for face in self.faces if face.address.startswith("airway.")}
        sheets = {face.address for face in self.faces if not face.address.startswith("airway.")}
        names = [search.first.plate] + ([search.second.plate] if search.second else [])
        self.bare_case = case_of(box_tables(search.tables(), names, search.loop))
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
        limits, of_sheet, last = *self.limits(), np.inf
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

    def limits(self) -> tuple[Floats, Floats]:
        """Limits of all parts, and of those on the plate's sheet alone."""
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
        raw = self._alone(some[0])
        spec = case_of(loop_tables(raw, search.loop, self.plate_cell(MOST_CELLS))).spec
        hose = next((name for name in hoses_about(raw["loop"][search.loop]["path"], plate) if name), None)
        bend = search.plumbing.bend_k if search.plumbing else 0.0
        flow = FlowOf(spec, search.loop, plate, hose, bend, self.coolant_degc)
        found = np.array([flow.at(one.hose_length, sum(route.bends for route in one.hoses)) for one in some])
        return found[:, 0], found[:, 1]

    def _alone(self, one: Verdict) -> Raw:
        """Tables with the first plate in its own frame and no other, hoses as stated."""
        first = self.search.first
        laid = [Laid.by(first.plate, one, first.layout)]
        return self.in_own_frames(self.search.alone(), laid, "series", None)

    def in_own_frames(self, tables: Raw, laid: Sequence[Laid], arrangement: str, plumbing: Plumbing | None) -> Raw:
        """Tables with the loop led so, its plates lying in their own frames."""
        raw = laid_out(tables, laid, arrangement, plumbing)
        for one in laid:
            lay(raw["plate"][one.plate], replace(one, spot=Spot((0.0, 0.0), 0, one.spot.size)))
        return raw

    def plate_cell(self, most: int) -> float:
        """Cell of the loop's plates, m: as in the case, but no more of them than `most`."""
        width, depth = self.search.first.size
        return max(self.search.spec.run.cell, sqrt(width * depth / most))

    def _loops(self, one: Verdict, flows: Floats) -> Between:
        search = self.search
        raw = self._alone(one)
        low, high = float(flows.min()), float(flows.max())
        cell = self.plate_cell(MOST_CELLS)
        first = LoopSide(raw, search.loop, low, cell, self.watts)
        same = high - low < 1e-3 * high
        return Between(first, first if same else LoopSide(raw, search.loop, high, cell, self.watts))

"""Plates laid somewhere and the whole case solved anew: what the search's answer rests on. Kept as they come."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import perf_counter
from typing import Any

import numpy as np

from thermsim.case.case import Case, digest_of
from thermsim.physics.ducts import regime
from thermsim.solve.factor import SolveFailed
from thermsim.studies.kept import Kept
from thermsim.studies.place.laid import Laid
from thermsim.studies.place.setup import Search
from thermsim.studies.place.tables import case_of, laid_out
from thermsim.studies.settled import Settled, Settler
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import START_S, Piece, alone, do, work

Facts = dict[str, Any]


@dataclass(frozen=True)
class Asked:
    """A case to be solved, and the plates of which it is told what they do."""

    case: Case
    plates: tuple[str, ...]


class Exactly:
    """Solves cases of a search; what was solved before is taken from `kept`."""

    def __init__(
        self, search: Search, kept: Kept | None, done: Callable[[], None] | None = None, where: Where = IN_THIS_PROCESS
    ) -> None:
        self.search = search
        self.kept = kept
        self.done = done
        self.where = where
        self._counted: set[str] = set()

    def asked(self, plates: Sequence[Laid], arrangement: str = "series") -> Asked:
        """The case with plates laid so."""
        tables = self.search.alone() if len(plates) == 1 else self.search.tables()
        raw = laid_out(tables, plates, arrangement, self.search.plumbing)
        return Asked(case_of(raw), tuple(one.plate for one in plates))

    def ahead(self, asked: Sequence[Asked]) -> None:
        """Solve several, wherever the search's work is done; each is then there when its turn comes."""
        if self.kept is None:
            return
        pieces = [self._piece(one) for one in asked]
        fresh = {piece.key for piece in pieces if not self.kept.has(piece.key)}
        do(pieces, self.kept, self.where, lambda done, total: self._step(), START_S)
        self._counted |= fresh

    def laid(self, plates: Sequence[Laid], arrangement: str = "series") -> Facts:
        """The state with plates laid so."""
        return self.solve(self.asked(plates, arrangement))

    def solve(self, asked: Asked) -> Facts:
        """The state of a case, what its plates do, and the seconds it took."""
        piece = self._piece(asked)
        if self.kept is None:
            facts: Facts = alone(piece.function, piece.arguments)
        else:
            (facts,) = work([piece], self.kept, self.where.whole())
        if piece.key not in self._counted:
            self._counted.add(piece.key)
            self._step()
        return facts

    def _piece(self, asked: Asked) -> Piece:
        on, loop = self.search.on, self.search.loop
        key = digest_of([asked.case.content(), on, loop, asked.plates])
        return Piece(key, solved_anew, (asked.case, on, loop, asked.plates))

    def _step(self) -> None:
        if self.done:
            self.done()

    def bare(self, case: Case) -> Facts | None:
        """The state without plates; None where the heat would have no way out."""
        try:
            return self.solve(Asked(case, ()))
        except SolveFailed:
            return None


def solved_anew(case: Case, on: str, loop: str, plates: Sequence[str]) -> Facts:
    """`told` of a case built anew, for that is what a position without the search would cost, and its "seconds"."""
    start = perf_counter()
    facts = told(Settler().settle(case), on, loop, plates)
    return facts | {"seconds": perf_counter() - start}


def told(settled: Settled, on: str, loop: str, plates: Sequence[str]) -> Facts:
    """Parts, margins, flow and what each plate takes of it."""
    worst, margins, spec = settled.worst, settled.margins, settled.case.spec
    facts: Facts = {
        "worst_part": worst[0] if worst else None,
        "worst_margin_k": worst[1] if worst else None,
        "parts_degc": settled.parts,
        "margins_k": margins,
        "sheet_margin_k": min((margins[name] for name in margins if spec.part[name].on == on), default=None),
        "unknowns": settled.model.node_count,
    }
    point = settled.steady.conditions.loops.get(loop)
    if point is None or not plates:
        return facts
    hydraulics = settled.model.operating.loops[loop]
    facts["flow_l_per_min"] = 6e4 * point.flows["pump"]
    pump = hydraulics.drop(hydraulics.series, point.flows["pump"], point.liquid, frozenset())
    facts["loop_drop_kpa"] = pump / 1e3
    facts["plates"] = {plate: _plate(settled, loop, plate) for plate in plates}
    first = facts["plates"][plates[0]]
    return facts | {key: first[key] for key in ("drop_kpa", "plate_mean_degc", "reynolds", "regime")}


def _plate(settled: Settled, loop: str, plate: str) -> Facts:
    address = f"plate.{plate}"
    point = settled.steady.conditions.loops[loop]
    passage = settled.model.operating.loops[loop].passages[address]
    flow = point.flows[address]
    re = passage.reynolds(flow, point.liquid)
    ends = settled.model.site.ends(address)
    mean = float(np.dot(ends.share, settled.steady.temperature[ends.node]))
    return {
        "flow_l_per_min": 6e4 * flow,
        "drop_kpa": passage.drop(flow, point.liquid) / 1e3,
        "reynolds": re,
        "regime": None if re is None else regime(re),
        "plate_mean_degc": mean,
    }

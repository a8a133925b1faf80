"""Search for the place of a cold plate: every position judged and settled, the best of them solved again exactly."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.studies.cautions import cautions
from thermsim.studies.frozen import is_governed
from thermsim.studies.kept import Kept
from thermsim.studies.place.answer import answer, limits_of, warnings_of
from thermsim.studies.place.exact import Asked, Exactly, Facts
from thermsim.studies.place.laid import Laid
from thermsim.studies.place.layouts import LAYOUTS
from thermsim.studies.place.pair_search import Pairs, laid_pair, search_pairs
from thermsim.studies.place.rules import Verdict
from thermsim.studies.place.search import Found, Screening
from thermsim.studies.place.setup import Search, search_of
from thermsim.studies.place.told import (
    board_told,
    exact_told,
    in_order,
    limits_told,
    millimetres,
    positions_told,
    spot_told,
    timing_told,
)
from thermsim.studies.place.variants import channel_ways, other_layouts
from thermsim.studies.stored import store
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import Progress, alone

PAIR_LEADERS = 3


def place(case: Case, folder: str | Path, where: Where = IN_THIS_PROCESS, progress: Progress | None = None) -> Facts:
    """Search by the case's `[place]`; facts, also stored as `place.json` in `folder`.

    Exact states are kept in the folder as they come, so that a call that was interrupted goes on. A shard screens
    all, and shares out the exact states of the leaders. Raises `CaseError` where the settings do not fit the case,
    `SolveFailed` where the option has no steady state.
    """
    with Kept.of(folder, "place", where.shard) as kept:
        facts = Study(alone(search_of, (case,)), kept, where, progress).facts(case)
    store(folder, case, facts, indent=None)
    return facts


@dataclass(frozen=True)
class Paired:
    """Every pair of spots, and the seconds it took to settle them."""

    pairs: Pairs
    seconds: float


class Study:
    """One search from screening to facts."""

    def __init__(self, search: Search, kept: Kept, where: Where, progress: Progress | None = None) -> None:
        self.search = search
        self.where = where
        self.progress = progress
        self.done = 0
        self.exactly = Exactly(search, kept, self._step, where)
        arrangements = search.place.arrangement if search.second else ()
        self.arrangements = tuple(dict.fromkeys(arrangements))
        self.total = 4 + search.place.leaders + 8 + len(LAYOUTS) + len(self.arrangements) * (1 + PAIR_LEADERS)

    def _step(self) -> None:
        self.done += 1
        if self.progress:
            self.progress(self.done, max(self.done, self.total))

    def facts(self, case: Case) -> Facts:
        """Everything that was found; `case` is as the user gave it."""
        search = self.search
        start = perf_counter()
        screening = Screening(search)
        found = screening.single()
        screened = perf_counter() - start
        self._step()
        pairs = {name: self._paired(screening, found, name) for name in self.arrangements if found.allowed.size}
        self._ahead(found, pairs)
        self.where.end_of_share()
        leaders = self._leaders(found)
        exact = [leader["exact_s"] for leader in leaders]
        best = None if not leaders else found.verdicts[leaders[0]["position"]]
        variants = best is not None
        facts: Facts = {
            "study": "place",
            "title": case.title,
            "invented": case.spec.case.invented,
            "option": search.case.option,
            "plate": f"plate.{search.first.plate}",
            "second": None if search.second is None else search.place.second,
            "layout": search.first.layout.name,
            "plate_size_mm": millimetres(*search.first.size),
            "pitch_mm": millimetres(search.place.pitch)[0],
            **board_told(search),
            "positions": positions_told(search, found),
            "leaders": leaders,
            "now": self._now(),
            "without": self._state(self.exactly.bare(screening.bare_case)),
            "pairs": {name: self._pairs(one, name) for name, one in pairs.items()},
            "directions": channel_ways(self.exactly, search, best) if variants and best else [],
            "layouts": other_layouts(self.exactly, search, best) if variants and best else [],
            "counts": self._counts(found, screening),
            "timing": timing_told(screened, exact, int(found.allowed.size)),
        }
        if is_governed(search.live) and best is not None:
            facts["governors_frozen"] = dict(search.now.speeds)
        facts["answer"] = answer(facts)
        facts["limits"] = limits_of(facts, search)
        facts["warnings"] = warnings_of(facts, search) + [str(problem) for problem in case.warnings]
        facts["cautions"] = cautions(search.case)
        return facts

    def _ahead(self, found: Found, pairs: Mapping[str, Paired]) -> None:
        """Have all that the screening leads to solved exactly: the case as it stands, the best positions and pairs."""
        asked = [self._as_it_stands()]
        asked += [self._asked(found.verdict(int(k))) for k in found.best(self.search.place.leaders)]
        for arrangement, one in pairs.items():
            for i, j in one.pairs.best(PAIR_LEADERS):
                laid = laid_pair(self.search, (one.pairs.first[i], one.pairs.second[j]))
                asked.append(self.exactly.asked(laid, arrangement))
        self.exactly.ahead(asked)

    def _as_it_stands(self) -> Asked:
        return Asked(self.search.case, (self.search.first.plate,))

    def _asked(self, verdict: Verdict) -> Asked:
        first = self.search.first
        return self.exactly.asked([Laid.by(first.plate, verdict, first.layout)])

    def _leaders(self, found: Found) -> list[Facts]:
        """The best positions solved again, best first by that."""
        leaders = []
        for k in found.best(self.search.place.leaders):
            verdict = found.verdict(int(k))
            exact = self.exactly.solve(self._asked(verdict))
            leaders.append(
                spot_told(verdict)
                | {"position": int(found.allowed[k]), "worst_margin_k": _short(found.margins[k])}
                | exact_told(exact)
                | {"screening_error_k": _short(found.margins[k] - exact["worst_margin_k"])}
            )
        return [leader | {"rank": rank} for rank, leader in enumerate(in_order(leaders), start=1)]

    def _paired(self, screening: Screening, found: Found, arrangement: str) -> Paired:
        start = perf_counter()
        pairs = search_pairs(screening, found, arrangement)
        self._step()
        return Paired(pairs, perf_counter() - start)

    def _pairs(self, found: Paired, arrangement: str) -> Facts:
        leaders = in_order([self._pair(found.pairs, i, j, arrangement) for i, j in found.pairs.best(PAIR_LEADERS)])
        return {
            "count": found.pairs.count,
            "screening_s": found.seconds,
            "leaders": leaders,
            "best": leaders[0] if leaders else None,
        }

    def _pair(self, pairs: Pairs, i: int, j: int, arrangement: str) -> Facts:
        verdicts = pairs.first[i], pairs.second[j]
        exact = self.exactly.laid(laid_pair(self.search, verdicts), arrangement)
        margin = float(pairs.margins[i, j])
        return (
            {"first": spot_told(verdicts[0]), "second": spot_told(verdicts[1]), "worst_margin_k": _short(margin)}
            | exact_told(exact)
            | {"screening_error_k": _short(margin - exact["worst_margin_k"])}
        )

    def _now(self) -> Facts:
        """The case as it stands; and its plate's place by the rules of the search, if that plate is searched."""
        search = self.search
        facts = self._state(self.exactly.solve(self._as_it_stands())) or {}
        plate = search.spec.plate[search.first.plate]
        facts["corner_mm"], facts["size_mm"] = millimetres(*plate.corner), millimetres(*plate.size)
        verdict = search.as_drawn()
        facts["by_the_rules"] = None if verdict is None else list(verdict.why)
        return facts

    def _state(self, exact: Facts | None) -> Facts | None:
        return None if exact is None else {key: value for key, value in exact.items() if key != "seconds"}

    def _counts(self, found: Found, screening: Screening) -> Facts:
        reasons: dict[str, int] = {}
        for verdict in found.verdicts:
            for why in verdict.why:
                reasons[why] = reasons.get(why, 0) + 1
        return {
            "positions": len(found.verdicts),
            "allowed": int(found.allowed.size),
            "reasons": dict(sorted(reasons.items(), key=lambda item: -item[1])),
            "spread_k": float(np.ptp(found.margins)) if found.allowed.size else 0.0,
            "limited_by": limits_told(self.search, found),
            "unknowns": screening.box.model.node_count,
            "factorisations": screening.box.factorisations,
        }


def _short(value: Any) -> float:
    return round(float(value), 4)

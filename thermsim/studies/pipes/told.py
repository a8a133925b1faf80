"""What a case with heat pipes comes to in its states, whole and with one pipe lost: asked first, then worked out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from thermsim.case.case import Case, digest_of
from thermsim.case.deciding import STEADY
from thermsim.case.lines import dotted
from thermsim.solve.factor import SolveFailed
from thermsim.studies.decide.states import courses, state_facts
from thermsim.studies.kept import Kept
from thermsim.studies.settled import Settler
from thermsim.studies.turns import TOGETHER
from thermsim.studies.where import Where
from thermsim.studies.workers import START_S, Piece, Progress, work

Facts = dict[str, Any]
GONE = "1e9 K/W"  # the only pipe of a table, lost: other tables may speak of it, so it stays there in name


@dataclass(frozen=True)
class Ask:
    """A case in a state: steady, or after so many seconds."""

    case: Case
    state: str
    course: float | str

    def is_of(self, other: Ask) -> bool:
        """Whether it is the same, by what is in the box: two pipes, and three with one lost, are one case."""
        return (
            self.state == other.state and self.case.spec == other.case.spec and self.case.mishaps == other.case.mishaps
        )


@dataclass
class Told:
    """Facts of cases in states, each worked out once."""

    known: list[tuple[Ask, Facts]] = field(default_factory=list)

    def of(self, case: Case, state: str, course: float | str) -> Facts:
        """`state_facts`. Raises `SolveFailed` where there is no such state."""
        ask = Ask(case, state, course)
        facts = next(facts for known, facts in self.known if known.is_of(ask))
        if "failed" in facts:
            raise SolveFailed(facts["failed"])
        return facts


def told_in_states(cases: Iterable[Case], kept: Kept, where: Where, progress: Progress | None = None) -> Told:
    """All that `book` asks of some cases. Of a shard only what is there."""
    asked: list[Ask] = []
    for case in cases:
        for ask in asks(case):
            if not any(one.is_of(ask) for one in asked):
                asked.append(ask)
    batches = [asked[start : start + TOGETHER] for start in range(0, len(asked), TOGETHER)]
    done = work([_piece(batch) for batch in batches], kept, where, progress, START_S)
    told = zip(batches, done, strict=True)
    return Told([pair for batch, facts in told for pair in zip(batch, facts.get("states", ()), strict=False)])


def states_asked(case: Case) -> Mapping[str, float | str]:
    """The states that are looked at."""
    return courses(case) or {case.spec.run.state: STEADY}


def asks(case: Case) -> list[Ask]:
    """The case in every state, whole and with one pipe of each table lost."""
    every = [case, *(with_one_lost(case, name) for name in case.spec.heat_pipe)]
    return [Ask(one, state, course) for one in every for state, course in states_asked(case).items()]


def with_one_lost(case: Case, name: str) -> Case:
    """The case with one pipe of a table gone."""
    count, address = case.spec.heat_pipe[name].count, dotted(("heat_pipe", name))
    return case.with_changes({f"{address}.resistance": GONE} if count == 1 else {f"{address}.count": count - 1})


def in_states(asked: Sequence[Ask]) -> Facts:
    """Facts of each, as "states"; "failed", and why, where there is none."""
    settler, found = Settler(), []
    for ask in asked:
        try:
            found.append(state_facts(ask.case, ask.state, ask.course, settler))
        except SolveFailed as error:
            found.append({"failed": str(error)})
    return {"states": found}


def _piece(asked: Sequence[Ask]) -> Piece:
    key = digest_of([[ask.case.content(), ask.state, ask.course] for ask in asked])
    return Piece(key, in_states, (tuple(asked),))

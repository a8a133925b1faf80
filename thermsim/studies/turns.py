"""Steady states settled in turn, a few cases a piece of work: each from the one before, on sheets laid out once.

A piece begins anew, so that what it gives does not depend on what was settled before it, here or elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from thermsim.case.case import Case, digest_of
from thermsim.solve.factor import SolveFailed
from thermsim.studies.kept import Facts
from thermsim.studies.settled import Settled, Settler
from thermsim.studies.workers import Piece

TOGETHER = 8  # cases of a piece: the first takes twice as long as each of the others
Told = Callable[[Settled], Facts]  # a function of a module, for it goes to other processes by name


def turn(cases: Sequence[Case], told: Told, *, may_fail: bool = False) -> Piece:
    """The piece of work that settles these in turn; it gives {"states": what is told of each}."""
    asked: list[Any] = [f"{told.__module__}.{told.__qualname__}", may_fail, *(case.content() for case in cases)]
    return Piece(digest_of(asked), settle_in_turn, (tuple(cases), told, may_fail))


def turns(cases: Sequence[Case], told: Told, *, may_fail: bool = False) -> list[Piece]:
    """Pieces of `TOGETHER` cases at most, in order."""
    starts = range(0, len(cases), TOGETHER)
    return [turn(cases[start : start + TOGETHER], told, may_fail=may_fail) for start in starts]


def states_of(done: Sequence[Facts]) -> list[Facts]:
    """The states of those pieces that are done, in order."""
    return [state for facts in done for state in facts.get("states", ())]


def settle_in_turn(cases: Sequence[Case], told: Told, may_fail: bool) -> Facts:
    """What is told of each steady state; where there is none, "failed" and why if it may, else raises `SolveFailed`."""
    settler, states = Settler(), []
    for case in cases:
        try:
            states.append(told(settler.settle(case)))
        except SolveFailed as error:
            if not may_fail:
                raise
            states.append({"failed": str(error)})
    return {"states": states}

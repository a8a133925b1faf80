"""Steady states over inlet temperatures, each worked out once and kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.case.lines import dotted
from thermsim.model.arrays import Floats
from thermsim.studies.kept import Kept
from thermsim.studies.settled import Settled
from thermsim.studies.turns import states_of, turn, turns
from thermsim.studies.where import Where
from thermsim.studies.workers import START_S, Piece, work

Facts = dict[str, Any]
SINGLE_NODES = ("part", "sink", "wall", "block")
CURVES = (
    "worst_part",
    "worst_margin_k",
    "with_room_dba",
    "sources_dba",
    "coldest_degc",
    "coldest_at",
    "dew_margin_k",
    "settles",
)


@dataclass
class Bench:
    """Settles cases, or takes what was kept of them; `progress` is told of every piece of work."""

    kept: Kept
    where: Where
    progress: Callable[[], None]

    def settle(self, *cases: Case) -> list[Facts]:
        """Facts of the steady states of cases, settled in turn; not shared out among shards."""
        return states_of([self.once(turn(cases, state_facts))])

    def courses(self, *courses: Sequence[Case]) -> list[list[Facts]]:
        """Likewise of every case of some courses, their pieces spread; of a shard only what is there."""
        pieces = [turns(course, state_facts) for course in courses]
        done = iter(self._work([piece for course in pieces for piece in course], self.where))
        return [states_of([next(done) for _ in course]) for course in pieces]

    def once(self, piece: Piece) -> Facts:
        """Facts of a piece of work that every shard needs."""
        return self._work([piece], self.where.whole())[0]

    def _work(self, pieces: Sequence[Piece], where: Where) -> list[Facts]:
        for _ in range(sum(self.kept.has(piece.key) for piece in pieces)):
            self.progress()
        return work(pieces, self.kept, where, lambda done, total: self.progress(), START_S)


@dataclass(frozen=True)
class Course:
    """States over rising inlet temperatures, °C, shape (n,)."""

    inlets: Floats
    states: Sequence[Facts]

    def part(self, name: str) -> Floats:
        """Temperature of a part, °C, shape (n,)."""
        return np.array([state["parts_degc"][name] for state in self.states])

    def curve(self, key: str) -> Floats:
        """A number of every state, shape (n,)."""
        return np.array([state[key] for state in self.states], dtype=float)

    def facts(self) -> Facts:
        """Lists over the inlets."""
        told: Facts = {
            key: {name: [state[key][name] for state in self.states] for name in self.states[0][key]}
            for key in ("parts_degc", "margins_k", "speeds")
        }
        return told | {key: [state[key] for state in self.states] for key in CURVES}


def inlets_swept(case: Case, low: float, high: float) -> Floats:
    """Inlet temperatures of the sweep, °C, with the room's among them."""
    room = case.spec.room.temperature
    even: Floats = np.linspace(low, high, case.spec.chill.steps)
    even = even[np.abs(even - room) > 1e-3 * (high - low)]
    return np.sort(np.r_[even, room])


def fed(case: Case, airway: str, inlet_degc: float) -> Case:
    """The case with an airway's inlet at a temperature, in place of any duty of it."""
    moved = [name for name, duty in case.spec.duty.items() if duty.of == f"airway.{airway}.inlet"]
    changes: dict[str, str | None] = {dotted(("duty", name)): None for name in moved}
    return case.with_changes(changes | {dotted(("airway", airway, "inlet")): f"{inlet_degc:.9g} degC"})


def state_facts(settled: Settled) -> Facts:
    """What is told of a steady state."""
    return settled.facts() | {"coldest_at": settled.coldest_at, "joints": _largest_joint_drops(settled)}


def _largest_joint_drops(settled: Settled) -> Facts:
    """For each part the joint with the largest drop to something of one temperature, and that drop, K."""
    found: Facts = {}
    degc = settled.steady.temperature
    for name, joint in settled.case.spec.joint.items():
        for one, other in (joint.between, joint.between[::-1]):
            if not one.startswith("part.") or other.split(".")[0] not in SINGLE_NODES:
                continue
            part = one.removeprefix("part.")
            drop = float(degc[settled.model.numbers(one)[0]] - degc[settled.model.numbers(other)[0]])
            if drop > found.get(part, {"drop_k": 0.0})["drop_k"]:
                found[part] = {"joint": name, "drop_k": drop}
    return found

"""What is compared on the bench: what stands there before and after, where both settle, what a channel then reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from thermsim.bench.readings import Instant, rule_of
from thermsim.bench.spots import spot_of
from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.solve.modes import slowest_time_constant
from thermsim.studies.decide.roles import BASE, named, roles
from thermsim.studies.settled import Settled, Settler


@dataclass(frozen=True)
class Stand:
    """One thing that stands on the bench, as the model has it."""

    name: str  # of the option, or "base"
    settled: Settled
    slowest: float  # s, its slowest time constant with speeds held

    @property
    def case(self) -> Case:
        """Its case."""
        return self.settled.case


def stands(case: Case) -> list[Stand]:
    """Before and after, or what is there alone. Raises `NoPath` or `SolveFailed` where one finds no rest."""
    settler, found = Settler(), []
    for name in names(case):
        settled = settler.settle(case.with_option(None if name == BASE else name))
        found.append(Stand(name, settled, slowest_time_constant(settled.model, settled.steady)))
    return found


def names(case: Case) -> list[str]:
    """What stands before and after: the option asked for, else what the runs say, else base and liquid."""
    runs = case.spec.bench.run.values()
    before, after = (
        next((run.option or BASE for run in runs if run.stands == stand), None) for stand in ("before", "after")
    )
    return list(dict.fromkeys([before or BASE, case.option or after or _usual(case)]))


def _usual(case: Case) -> str:
    if case.spec.decide.liquid and case.spec.decide.liquid[0] in case.options:
        return case.spec.decide.liquid[0]
    cases = {BASE: case.with_option(None)}
    for name in case.options:
        try:
            cases[name] = case.with_option(name)
        except CaseError:  # `thermsim check` tells what is wrong with it
            continue
    found = roles(cases)
    return next(iter(named(found, "liquid") or named(found, "other", "cheap")), BASE)


def rebuilt(found: Iterable[Stand]) -> bool:
    """Whether going from one to another fills or drains a loop, or mounts heat pipes: nobody does that between runs."""
    return len({(frozenset(one.case.spec.loop), frozenset(one.case.spec.heat_pipe)) for one in found}) > 1


def read_at_rest(stand: Stand, channels: Iterable[str]) -> dict[str, float]:
    """What channels read where a stand settles, SI and °C; those it has nothing for are left out."""
    model, steady = stand.settled.model, stand.settled.steady
    now = Instant(steady.time, steady.time, steady.inputs, steady.conditions)
    found = {}
    for channel in channels:
        spot, rule = spot_of(model, channel), rule_of(model, channel)
        if spot is not None:
            nodes = np.array(spot.nodes)
            found[channel] = float(steady.conditions.temperature[nodes] @ spot.shares(steady.conditions))
        elif rule is not None:
            found[channel] = float(rule(now))
    return found

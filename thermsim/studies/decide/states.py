"""Whether limits hold in every operating state: where each settles, or after a time in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from operator import attrgetter
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.case.deciding import STEADY
from thermsim.case.deciding_checks import named_states
from thermsim.case.lines import dotted
from thermsim.model.arrays import Floats
from thermsim.model.build import build, rebuild
from thermsim.model.system import Model
from thermsim.solve.governors import GovernorState, governor_laws, speeds_of
from thermsim.solve.noise import noise_known, noise_levels
from thermsim.solve.transient import Standing, Transient
from thermsim.studies.musts import IN_ANY_STATE, Verdict, own_verdict, part_verdicts, pipe_verdict
from thermsim.studies.pipe_capacity import Bundle, bundles
from thermsim.studies.settled import Settled, Settler

Facts = dict[str, Any]
AFTERWARDS = 2.0  # times the time in a state, back in the run's own: what lies deeper peaks later


def courses(case: Case) -> dict[str, float | str]:
    """States in which limits must hold beside the run: "steady", or seconds after the run's own state.

    None where the parts name none: the run itself tells that one, its duties included.
    """
    asked = dict(case.spec.decide.states)
    return asked or dict.fromkeys(named_states(case.spec), STEADY)


def how_chosen(case: Case) -> str:
    """Where the states come from, in words."""
    if case.spec.decide.states:
        return "as [decide] asks"
    return "every state that the parts name, steady" if named_states(case.spec) else "the one there is, as it is run"


def in_state(case: Case, state: str) -> Case:
    """The case with an operating state that stays."""
    changes: dict[str, Any] = {
        dotted(("duty", name)): None for name, duty in case.spec.duty.items() if duty.of == "state"
    }
    return case.with_changes(changes | {"run.state": state})


def state_facts(case: Case, state: str, course: float | str, settler: Settler) -> Facts:
    """Peaks of parts, noise, dew margin and tightest heat pipes of a case in a state, and the must-haves that meets.

    Raises `SolveFailed` where it does not settle.
    """
    if isinstance(course, float):
        own = settler.settle(in_state(case, case.spec.run.state))
        facts = _facts_for_a_time(own, in_state(case, state), course)
    else:
        facts = steady_facts(settler.settle(in_state(case, state)))
    return facts | {"verdicts": verdicts(case, facts)}


def steady_facts(settled: Settled) -> Facts:
    """What must-haves ask of a steady state."""
    noise, dew = settled.noise, settled.dew_point_degc
    return {
        "parts_degc": settled.parts,
        "with_room_dba": noise[1] if noise else None,
        "dew_margin_k": settled.coldest_degc - dew if dew is not None else None,
        **_pipe_facts(bundles(settled.model, settled.steady.conditions)),
    }


def _pipe_facts(pipes: Mapping[str, Bundle]) -> Facts:
    return {
        "pipe_margins": {name: bundle.margin for name, bundle in pipes.items()},
        "pipes": {name: asdict(bundle) for name, bundle in pipes.items()},
    }


def verdicts(case: Case, facts: Facts) -> list[Verdict]:
    """Limits, heat pipes, noise and dew margin against these facts."""
    found = part_verdicts(case, facts["parts_degc"])
    for name, margin in facts["pipe_margins"].items():
        found.append(pipe_verdict(name, margin, case.spec.heat_pipe[name].margin))
    values = {"noise": facts["with_room_dba"], "dew margin": facts["dew_margin_k"]}
    for name, must in case.spec.must_have.items():
        if must.of in IN_ANY_STATE:
            found.append(own_verdict(case, name, values[must.of]))
        elif must.of.startswith("part."):
            found.append(own_verdict(case, name, facts["parts_degc"][must.of.removeprefix("part.")]))
    return found


def _facts_for_a_time(own: Settled, case: Case, seconds: float) -> Facts:
    """Peaks of a spell in a state that begins where the run's own has settled and returns to it."""
    facts = steady_facts(own)
    numbers = {name: own.model.numbers(f"part.{name}")[0] for name in own.parts}
    peak = own.steady.temperature.copy()
    pipes = bundles(own.model, own.steady.conditions)
    for model, temperature, governed in _spell(own, case, seconds):
        np.maximum(peak, temperature, out=peak)
        speeds = own.speeds | governed
        if noise_known(model):
            facts["with_room_dba"] = max(facts["with_room_dba"], noise_levels(model, speeds)[1])
        if pipes:
            now = bundles(model, model.conditions(temperature, model.program.at(0.0, speeds)))
            pipes = {name: max(before, now[name], key=attrgetter("used")) for name, before in pipes.items()}
    return facts | _pipe_facts(pipes) | {"parts_degc": {name: float(peak[at]) for name, at in numbers.items()}}


def least(*values: float | None) -> float | None:
    """The least of those that are there."""
    return min((value for value in values if value is not None), default=None)


def most(*values: float | None) -> float | None:
    """The greatest of those that are there."""
    return max((value for value in values if value is not None), default=None)


def _spell(own: Settled, case: Case, seconds: float) -> Iterator[tuple[Model, Floats, dict[str, float]]]:
    """The model, temperatures and governed speeds after each step, in the state and back in the run's own."""
    laws = governor_laws(own.model)
    rest = tuple(_at_rest(own.speeds[law.table.drives[0]], law.table.min_speed) for law in laws)
    at = Standing(0.0, own.steady.temperature, rest)
    elsewhere = rebuild(own.model, case) or build(case)
    for model, duration in ((elsewhere, seconds), (own.model, AFTERWARDS * seconds)):
        for step in Transient.of(model).steps(duration, Standing(0.0, at.x, at.governors)):
            at = Standing(step.last.time, step.last.x, step.last.governors)
            yield model, at.x, speeds_of(laws, list(at.governors))


def _at_rest(speed: float, least: float) -> GovernorState:
    return GovernorState(speed, speed, speed > least)

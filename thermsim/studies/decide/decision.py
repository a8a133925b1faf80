"""The decision between designs: must-haves first, then weights; a failed must-have never ranks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from thermsim.case.case import Case
from thermsim.studies.decide.draws import Nominal, firmness, worst_margin
from thermsim.studies.decide.merits import FORMULA, UNITS, Values, merit_values, scored, ties, weights
from thermsim.studies.decide.states import least, most
from thermsim.studies.musts import Verdict, is_sampled, verdict_text

Facts = dict[str, Any]


def summary_facts(summary: Facts) -> Facts:
    """What must-haves ask of any state, as the run had it."""
    return {
        "parts_degc": {name: part["worst_degc"] for name, part in summary["parts"].items()},
        "with_room_dba": summary["noise"]["with_room_dba"],
        "dew_margin_k": summary["dew"]["margin_k"] if summary["dew"] else None,
        "pipe_margins": {name: pipe["margin"] for name, pipe in summary["heat_pipes"].items()},
    }


def worst_of(states: Sequence[Facts]) -> Facts:
    """The worst of several states, fact by fact."""
    first = states[0]
    return {
        "parts_degc": {name: max(facts["parts_degc"][name] for facts in states) for name in first["parts_degc"]},
        "with_room_dba": most(*(facts["with_room_dba"] for facts in states)),
        "dew_margin_k": least(*(facts["dew_margin_k"] for facts in states)),
        "pipe_margins": {
            name: least(*(facts["pipe_margins"][name] for facts in states)) for name in first["pipe_margins"]
        },
    }


def must_haves(summary: Facts, states: Mapping[str, Facts], asked: Iterable[str] = ()) -> Facts:
    """Which must-haves an option fails, in its run and in other states, and which cannot be told.

    `asked`: states that the base case is judged in; an option with a part that lacks one is not known to pass.
    """
    failed: dict[str, Facts] = {}
    untold: dict[str, Facts] = {}
    count = 0
    for state, verdicts in _all_verdicts(summary, states):
        for verdict in verdicts:
            count += state is None
            found = failed if verdict["met"] is False else untold if verdict["met"] is None else None
            if found is not None and verdict["name"] not in found:
                found[verdict["name"]] = verdict | {"state": state, "text": verdict_text(verdict, state)}
    untold |= {f"state {state}": _lacking(state) for state in asked if state not in states}
    stuck = [{"state": state, "text": facts["failed"]} for state, facts in states.items() if "failed" in facts]
    return {
        "passes": False if failed or stuck else None if untold else True,
        "failed": [*failed.values(), *({"name": "a steady state", "of": "state", **one} for one in stuck)],
        "cannot_tell": list(untold.values()),
        "count": count,
    }


def _lacking(state: str) -> Facts:
    why = f"not every part of it has watts for state {state}"
    return {"name": f"state {state}", "of": "state", "state": state, "why": why, "text": f"state {state} ({why})"}


def is_tellable(option: Nominal, musts: Facts) -> bool:
    """Whether samples can say if an option passes: nothing is untold, or it fails what samples do not move."""
    return option.others_met is False or not musts["cannot_tell"]


def _all_verdicts(summary: Facts, states: Mapping[str, Facts]) -> Iterable[tuple[str | None, list[Verdict]]]:
    yield None, summary["must_haves"]
    for state, facts in states.items():
        yield state, facts.get("verdicts", [])


def nominal(case: Case, summary: Facts, states: Mapping[str, Facts]) -> Nominal:
    """An option at the case's own values, over all its states."""
    facts = worst_of([summary_facts(summary), *(told for told in states.values() if "failed" not in told)])
    margin, noise = worst_margin(case, facts), facts["with_room_dba"]
    others = [verdict["met"] for verdict in summary["must_haves"] if not is_sampled(verdict)]
    met = False if False in others else None if None in others else True
    return Nominal(case, facts, merit_values(case, summary, margin, noise), met)


def decision(
    options: Mapping[str, Nominal], musts: Mapping[str, Facts], samples: Mapping[str, Sequence[Facts]] | None
) -> Facts:
    """Ranking of the designs that fail no must-have, ties, and how often each passes and wins in the samples."""
    decide = next(iter(options.values())).case.spec.decide
    values: dict[str, Values] = {name: one.merits for name, one in options.items()}
    candidates = {name: values[name] for name in options if musts[name]["passes"] is not False}
    told = scored(candidates, decide)
    order = sorted(candidates, key=lambda name: (musts[name]["passes"] is not True, -told[name]["score"]))
    pairs = ties(candidates, {name: told[name]["score"] for name in candidates}, decide)
    together = {frozenset(pair) for pair in pairs}
    firm = None
    if samples:
        tellable = {name: options[name] for name in samples if is_tellable(options[name], musts[name])}
        firm = firmness(tellable, samples, decide) if tellable else None
    return {
        "must_haves": dict(musts),
        "merits": values,
        "units": UNITS,
        "weights": weights(decide),
        "formula": FORMULA,
        "ranking": [
            {"option": name, "rank": rank, "passes": musts[name]["passes"], **told[name],
             **({} if len(order) > 1 else {"score": None}),
             "ties_with_first": name != order[0] and frozenset((name, order[0])) in together}
            for rank, name in enumerate(order, start=1)
        ],
        "ties": [list(pair) for pair in pairs],
        "draws": firm["draws"] if firm else 0,
        "rank_frequency": firm["rank_frequency"] if firm else {},
        "pass_probability": firm["pass_probability"] if firm else {},
        "none_passes": firm["none_passes"] if firm else None,
    }  # fmt: skip

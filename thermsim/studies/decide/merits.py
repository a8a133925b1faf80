"""Merits of options, weighed: among those that may be chosen, how good is each, and is the difference to be told.

    merit m = (value − worst) / max(best − worst, 3u), score = Σ w m / Σ w

with best and worst among the options compared and u the uncertainty of one value compared with another. Where all
are nearly alike, 3u keeps a merit from deciding. Two scores tie within 2 √Σ(w u / max(best − worst, 3u))² / Σ w.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from math import hypot
from typing import Any

from thermsim.case.case import Case
from thermsim.case.deciding import Decide
from thermsim.case.deciding_checks import MERITS

Values = dict[str, float | None]  # merit: value
Facts = dict[str, Any]
FORMULA = (
    "merit = (value − worst) / max(best − worst, 3u) among the options ranked; score = Σ weight·merit / Σ weight, "
    "where what cannot be told counts as 0; options tie within 2·√Σ(weight·u/max(best − worst, 3u))²/Σ weight; "
    "u: the uncertainty of one value compared with another"
)
MORE_IS_BETTER = ("margin",)
UNITS = {"margin": "K", "noise": "dB(A)", "drift": "ppm", "warm_up": "s", "watts": "W"}
DEFAULT_WEIGHTS = {"margin": 1.0, "noise": 1.0}  # common practice, no source
RELATIVE_U = {"drift": 0.05, "warm_up": 0.1, "watts": 0.05}  # of the value: common practice, no source
FLOOR = 3.0  # uncertainties
ROUNDING = 1e-12
COVERAGE = 2.0  # uncertainties within which two scores tie: about 95 %


def weights(decide: Decide) -> dict[str, float]:
    """Weight of each merit that counts."""
    return {name: weight for name, weight in (decide.weights or DEFAULT_WEIGHTS).items() if weight}


def efforts(case: Case) -> dict[str, float]:
    """What an option takes, those it is based on included; the base case takes nothing."""
    names = dict.fromkeys(name for option in case.spec.option.values() for name in option.effort)
    if case.option is None:
        return dict.fromkeys(names, 0.0)
    found: dict[str, float] = {}
    step: str | None = case.option
    while step is not None:
        found = case.spec.option[step].effort | found
        step = case.spec.option[step].base
    return found


def merit_values(case: Case, summary: Facts, worst_margin: float | None, noise: float | None) -> Values:
    """Every merit of an option; None where it cannot be told. Margin and noise are those of all states."""
    readings = [part["reading"] for part in summary["parts"].values() if "reading" in part]
    known: Values = {
        "margin": worst_margin,
        "noise": noise,
        "drift": max((abs(reading["start_ppm"]) for reading in readings), default=None),
        "warm_up": summary["warm_up"].get("time_s"),
        "watts": summary["ledger"]["supplied_w"],
    }
    takes = efforts(case)
    every = dict.fromkeys(name for option in case.spec.option.values() for name in option.effort)
    return {name: known[name] for name in MERITS} | {name: takes.get(name) for name in every if name not in MERITS}


def uncertainty(merit: str, values: Mapping[str, float], decide: Decide) -> float:
    """Of one value compared with another; what the user states as effort is taken as it is."""
    if merit == "margin":
        return decide.uncertainty
    if merit == "noise":
        return decide.noise_uncertainty
    return RELATIVE_U.get(merit, 0.0) * max((abs(value) for value in values.values()), default=0.0)


def scored(options: Mapping[str, Values], decide: Decide) -> dict[str, Facts]:
    """Score 0 to 1 of every option, with each merit's part and those that cannot be told (they count as 0)."""
    weighing = weights(decide)
    found: dict[str, Facts] = {name: {"merits": {}, "untold": []} for name in options}
    for merit, weight in weighing.items():
        told = {name: value for name, values in options.items() if (value := values.get(merit)) is not None}
        span = _span(merit, told, decide)
        sign = 1.0 if merit in MORE_IS_BETTER else -1.0
        worst = min((sign * value for value in told.values()), default=0.0)
        for name, facts in found.items():
            share = (sign * told[name] - worst) / span if name in told and span else 0.0
            facts["merits"][merit] = {"value": options[name].get(merit), "merit": share, "weight": weight}
            if name not in told:
                facts["untold"].append(merit)
    for facts in found.values():
        parts = facts["merits"].values()
        facts["score"] = sum(part["weight"] * part["merit"] for part in parts) / sum(weighing.values())
    return found


def _span(merit: str, told: Mapping[str, float], decide: Decide) -> float:
    """Best less worst, or 3u if that is more."""
    if not told:
        return 0.0
    return max(max(told.values()) - min(told.values()), FLOOR * uncertainty(merit, told, decide))


def ties(options: Mapping[str, Values], scores: Mapping[str, float], decide: Decide) -> list[tuple[str, str]]:
    """Pairs of options whose scores cannot be told apart."""
    within = tie_width(options, decide)
    return [(a, b) for a, b in combinations(options, 2) if abs(scores[a] - scores[b]) <= within]


def tie_width(options: Mapping[str, Values], decide: Decide) -> float:
    """How far apart scores may be and still tie."""
    weighing = weights(decide)
    terms = []
    for merit, weight in weighing.items():
        told = {name: value for name, values in options.items() if (value := values.get(merit)) is not None}
        span = _span(merit, told, decide)
        terms.append(weight * uncertainty(merit, told, decide) / span if span else 0.0)
    return COVERAGE * hypot(*terms) / sum(weighing.values()) + ROUNDING

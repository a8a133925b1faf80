"""How firm the decision is: the same samples of what is not known well in every option, and who passes and wins.

Each sample is settled in the run's own state on a grid of twice the cell. What the fine grid and the other states
add at the case's own values is added to every sample; warm-up, drift, watts, height and mass stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

from thermsim import units
from thermsim.case.case import Case, digest_of
from thermsim.case.deciding import Decide
from thermsim.case.errors import CaseError
from thermsim.solve.factor import SolveFailed
from thermsim.studies.decide.merits import Values, scored, tie_width
from thermsim.studies.decide.states import least, steady_facts, verdicts
from thermsim.studies.settled import Settler
from thermsim.studies.sweep.sampling import Draw

Facts = dict[str, Any]
COARSER = 2.0
TOGETHER = 16  # samples that one worker settles before they are kept
NORMAL_95 = 1.959964  # standard deviations of a 95 % interval


def coarse(case: Case) -> Case:
    """The case on the grid its samples are settled on."""
    return case.with_changes({"run.cell": units.format_quantity(COARSER * case.spec.run.cell, "length")})


def batches(draws: Mapping[str, Sequence[Draw]], cases: Mapping[str, Case]) -> Iterator[tuple[str, str, list[Draw]]]:
    """Key, option and samples of each piece of work; the first sample of an option changes nothing."""
    for name, samples in draws.items():
        every = [{}, *samples]
        for start in range(0, len(every), TOGETHER):
            piece = every[start : start + TOGETHER]
            yield digest_of([cases[name].content(), piece]), name, piece


def settle_batch(case: Case, samples: Sequence[Draw]) -> Facts:
    """What each sample settles at, as "samples"; "failed" where it does not, or cannot be."""
    settler, rough = Settler(), coarse(case)
    found = []
    for changes in samples:
        try:
            found.append(steady_facts(settler.settle(rough.with_changes(changes))))
        except (SolveFailed, CaseError) as error:
            found.append({"failed": str(error)})
    return {"samples": found}


@dataclass(frozen=True)
class Nominal:
    """An option at the case's own values: worst facts over states on the fine grid, merits, verdicts on the rest."""

    case: Case
    facts: Facts
    merits: Values
    others_met: bool | None  # must-haves that samples do not move


def firmness(nominal: Mapping[str, Nominal], sampled: Mapping[str, Sequence[Facts]], decide: Decide) -> Facts:
    """Share of samples in which each option passes, and in which it ranks first among those that do.

    Options that tie for the first place share it.
    """
    names, count = list(nominal), len(next(iter(sampled.values()))) - 1
    passed = dict.fromkeys(names, 0)
    first = dict.fromkeys(names, 0.0)
    none = 0
    for k in range(1, count + 1):
        values: dict[str, Values] = {}
        for name in names:
            facts = shifted(nominal[name].facts, sampled[name][0], sampled[name][k])
            if facts is not None and passes(nominal[name], facts):
                passed[name] += 1
                values[name] = nominal[name].merits | {
                    "margin": worst_margin(nominal[name].case, facts), "noise": facts["with_room_dba"],
                }  # fmt: skip
        scores = {name: told["score"] for name, told in scored(values, decide).items()}
        best = [name for name in scores if scores[name] >= max(scores.values()) - tie_width(values, decide)]
        for name in best:
            first[name] += 1 / len(best)
        none += not best
    return {
        "draws": count,
        "pass_probability": {name: probability(passed[name], count) for name in names},
        "rank_frequency": {name: first[name] / count for name in names},
        "none_passes": none / count,
    }


def shifted(nominal: Facts, rough: Facts, sample: Facts) -> Facts | None:
    """A sample's facts with what the fine grid and the other states add; None where it does not settle."""
    if "failed" in sample or "failed" in rough:
        return None
    told: Facts = {
        "parts_degc": {
            name: degc + nominal["parts_degc"][name] - rough["parts_degc"][name]
            for name, degc in sample["parts_degc"].items()
        },
        "pipe_margins": {},
    }
    for key in ("with_room_dba", "dew_margin_k"):
        values = nominal[key], rough[key], sample[key]
        told[key] = None if None in values else sample[key] + nominal[key] - rough[key]
    for name, margin in sample["pipe_margins"].items():
        ends = nominal["pipe_margins"].get(name), rough["pipe_margins"].get(name)
        told["pipe_margins"][name] = None if None in (margin, *ends) else margin * ends[0] / ends[1]
    return told


def passes(nominal: Nominal, facts: Facts) -> bool:
    """Whether an option meets every must-have in a sample; what cannot be told is not met."""
    return nominal.others_met is True and all(verdict["met"] for verdict in verdicts(nominal.case, facts))


def worst_margin(case: Case, facts: Facts) -> float | None:
    """Least margin of a part to its limit, K."""
    limits = {name: part.limit for name, part in case.spec.part.items() if part.limit is not None}
    return least(*(limit - facts["parts_degc"][name] for name, limit in limits.items()))


def probability(hits: int, count: int) -> Facts:
    """Share of hits with Wilson's 95 % interval (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927)."""
    share, z2 = hits / count, NORMAL_95**2
    middle = (share + z2 / (2 * count)) / (1 + z2 / count)
    half = NORMAL_95 * sqrt(share * (1 - share) / count + z2 / (4 * count**2)) / (1 + z2 / count)
    return {"share": share, "low": max(middle - half, 0.0), "high": min(middle + half, 1.0)}

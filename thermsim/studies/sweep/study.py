"""Which inputs matter, what one of them does, and how sure the result is: tornado, line and samples."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.studies.cautions import cautions
from thermsim.studies.held import held, what_is_held
from thermsim.studies.kept import Kept
from thermsim.studies.stored import store, stored
from thermsim.studies.sweep.answer import answer_of_line, answer_of_samples
from thermsim.studies.sweep.one import Line, sweep_one
from thermsim.studies.sweep.practice import NOTE
from thermsim.studies.sweep.sampled import check_in_full, forget_samplers, sampler_of, settle_all
from thermsim.studies.sweep.samples import all_pass, drivers, outputs_told
from thermsim.studies.sweep.sampling import Input, Method, draws, unit_points
from thermsim.studies.sweep.sensitivity import Sensitivities, tornado
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import Progress, alone

Facts = dict[str, Any]
MOST_RELATIVE = 0.01  # that a checked slope may be off by
AS_FULL = 1e-4  # K, that the full solver itself may be off by


def sweep(
    case: Case,
    folder: str | Path,
    samples: int = 256,
    seed: int = 0,
    method: Method = "sobol",
    check: int = 3,
    where: Where = IN_THIS_PROCESS,
    progress: Progress | None = None,
) -> Facts:
    """All inputs ranked by what their spread does, then sampled together; facts, also stored as `sweep.json`.

    Finished samples are kept in the folder, so a call that was interrupted goes on and gives the same. A shard shares
    out the samples. Raises `SolveFailed` where the case itself has no steady state.
    """
    folder, still = Path(folder), held(case)
    with Kept.of(folder, "sweep", where.shard) as kept:
        try:
            found = alone(sampler_of, (still,)).found
            facts = _shell(case, found.inputs) | {"tornado": tornado(found)}
            facts["samples"] = _samples(still, found, (samples, seed, method, check), kept, where, progress)
        finally:
            forget_samplers()
    where.end_of_share()
    facts["answer"] = answer_of_samples(facts)
    facts["warnings"] += _warnings(facts)
    facts["one"] = _there_already(case, folder).get("one")
    store(folder, case, facts)
    return facts


def follow(
    case: Case, folder: str | Path, line: Line, where: Where = IN_THIS_PROCESS, progress: Progress | None = None
) -> Facts:
    """One input against all outputs; facts, also stored as `sweep.json`. Kept, shared and taken up as in `sweep`."""
    folder = Path(folder)
    with Kept.of(folder, "sweep", where.shard) as kept:
        facts = _shell(case, []) | {"one": sweep_one(held(case), line, kept, where, progress)}
    facts["answer"] = answer_of_line(facts)
    before = _there_already(case, folder)
    if before.get("tornado"):
        facts |= {key: before[key] for key in ("inputs", "tornado", "samples", "warnings")}
    store(folder, case, facts)
    return facts


def _there_already(case: Case, folder: Path) -> Facts:
    """An earlier sweep of this very case and option."""
    before = stored(folder, case).get("sweep", {})
    return before if before.get("option") == case.option else {}


def _shell(case: Case, inputs: Sequence[Input]) -> Facts:
    """What every sweep tells."""
    return {
        "study": "sweep",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": case.option,
        "inputs": [one.facts() for one in inputs],
        "tornado": None,
        "samples": None,
        "one": None,
        "answer": [],
        "warnings": [*what_is_held(case), *(str(problem) for problem in case.warnings)],
        "cautions": cautions(case),
    }


def _samples(
    case: Case,
    found: Sensitivities,
    asked: tuple[int, int, Method, int],
    kept: Kept,
    where: Where,
    progress: Progress | None,
) -> Facts | None:
    (count, seed, method, check), inputs = asked, found.inputs
    if count == 0 or not inputs:
        return None
    drawn = draws(case, count, seed, method)
    told = settle_all(case, drawn, kept, where, progress)
    where.end_of_share()
    points = unit_points(len(inputs), count, seed, method).T
    amounts = {one.name: one.distribution.ppf(mine) for one, mine in zip(inputs, points, strict=True)}
    in_full = sum(facts.get("indicator_k", 0.0) is None for facts in told)
    failed = sum("failed" in facts for facts in told)
    return {
        "count": count, "method": method, "seed": seed,
        "outputs": outputs_told(case, told),
        **all_pass(case, told),
        "drivers": drivers(case, told, amounts),
        "checked": check_in_full(case, drawn, told, check, seed, kept, where),
        "told_by_family": count - in_full - failed, "in_full": in_full, "failed": failed,
        "cost": {
            "processor_s": sum(facts["processor_s"] for facts in told),
            "unknowns": found.settled.model.node_count,
        },
    }  # fmt: skip


def _warnings(facts: Facts) -> list[str]:
    found, samples = [], facts["samples"]
    if any(one["assumed"] for one in facts["inputs"]):
        found.append(NOTE)
    off = facts["tornado"]["checked"]["largest_relative"]
    if off > MOST_RELATIVE:
        found.append(f"slopes are up to {100 * off:.0f} % off what small steps give: something has a kink near by")
    if samples is None:
        return found
    if samples["method"] == "sobol" and samples["count"] & (samples["count"] - 1):
        found.append(f"{samples['count']} Sobol points are no power of two: less evenly spread than they could be")
    checked = samples["checked"]
    if checked["largest_k"] > checked["largest_indicator_k"] + AS_FULL:
        found.append(
            f"a sample settled in full is {checked['largest_k']:.2g} K from what was told: governors that work against "
            "each other may rest in more than one way"
        )
    if samples["failed"]:
        found.append(f"{samples['failed']} samples have no steady state; they count as failed")
    if samples["not_sampled"]:
        found.append(f"settled states do not tell {', '.join(samples['not_sampled'])}: not in the probability")
    return found

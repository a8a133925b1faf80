"""Which inputs matter, what one of them does, and how sure the result is: tornado, line and samples."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from time import process_time
from typing import Any

from thermsim.case.case import Case
from thermsim.studies.cautions import cautions
from thermsim.studies.held import held, what_is_held
from thermsim.studies.kept import Kept
from thermsim.studies.settled import Settler
from thermsim.studies.stored import store, stored
from thermsim.studies.sweep.answer import answer_of_line, answer_of_samples
from thermsim.studies.sweep.one import Line, sweep_one
from thermsim.studies.sweep.practice import NOTE
from thermsim.studies.sweep.sampled import Sampler, check_in_full, settle_all
from thermsim.studies.sweep.samples import all_pass, drivers, outputs_told
from thermsim.studies.sweep.sampling import Input, Method, draws, uncertain_inputs, unit_points
from thermsim.studies.sweep.sensitivity import Sensitivities, tornado

Facts = dict[str, Any]
Progress = Callable[[float, float], None]
KEPT = "sweep.kept.jsonl"
MOST_RELATIVE = 0.01  # that a checked slope may be off by
AS_FULL = 1e-4  # K, that the full solver itself may be off by


def sweep(
    case: Case,
    folder: str | Path,
    samples: int = 256,
    seed: int = 0,
    method: Method = "sobol",
    check: int = 3,
    progress: Progress | None = None,
) -> Facts:
    """All inputs ranked by what their spread does, then sampled together; facts, also stored as `sweep.json`.

    Finished samples are kept in the folder, so a call that was interrupted goes on and gives the same. Raises
    `SolveFailed` where the case itself has no steady state.
    """
    folder, still = Path(folder), held(case)
    inputs = uncertain_inputs(still)
    found = Sensitivities(Settler().settle(still), inputs)
    facts = _shell(case, inputs) | {"tornado": tornado(found)}
    sampler = Sampler(found, case.spec.run.tolerance)
    with Kept(folder / KEPT) as kept:
        facts["samples"] = _samples(still, sampler, inputs, (samples, seed, method, check), kept, progress)
    facts["answer"] = answer_of_samples(facts)
    facts["warnings"] += _warnings(facts)
    facts["one"] = _there_already(case, folder).get("one")
    store(folder, case, facts)
    return facts


def follow(case: Case, folder: str | Path, line: Line, progress: Progress | None = None) -> Facts:
    """One input against all outputs; facts, also stored as `sweep.json`. Kept and taken up as `sweep` does."""
    folder, done = Path(folder), 0

    def step(count: int) -> None:
        nonlocal done
        done += count
        if progress:
            progress(done, len(line.values))

    with Kept(folder / KEPT) as kept:
        facts = _shell(case, []) | {"one": sweep_one(held(case), line, kept, step)}
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
    sampler: Sampler,
    inputs: Sequence[Input],
    asked: tuple[int, int, Method, int],
    kept: Kept,
    progress: Progress | None,
) -> Facts | None:
    count, seed, method, check = asked
    if count == 0 or not inputs:
        return None
    done = 0

    def step(more: int) -> None:
        nonlocal done
        done += more
        if progress:
            progress(done, count)

    began = process_time()
    drawn = draws(case, count, seed, method)
    told = settle_all(sampler, drawn, kept, step)
    spent = process_time() - began
    points = unit_points(len(inputs), count, seed, method).T
    amounts = {one.name: one.distribution.ppf(mine) for one, mine in zip(inputs, points, strict=True)}
    in_full = sum(facts.get("indicator_k", 0.0) is None for facts in told)
    failed = sum("failed" in facts for facts in told)
    return {
        "count": count, "method": method, "seed": seed,
        "outputs": outputs_told(case, told),
        **all_pass(case, told),
        "drivers": drivers(case, told, amounts),
        "checked": check_in_full(sampler, drawn, told, check, seed),
        "told_by_family": count - in_full - failed, "in_full": in_full, "failed": failed,
        "cost": {"processor_s": spent, "unknowns": sampler.found.settled.model.node_count},
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

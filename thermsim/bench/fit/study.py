"""Matching a case to its runs on the bench: joints, films and losses from what was logged, and whether it holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from time import process_time
from typing import TYPE_CHECKING, Any

from thermsim.bench.fit.answer import answer_of, warnings_of
from thermsim.bench.fit.channels import channel_facts, explained_rms, traces, training_rms
from thermsim.bench.fit.data import held_out, run_data
from thermsim.bench.fit.held_out import held_out_facts
from thermsim.bench.fit.matching import Matching
from thermsim.bench.fit.trials import Trials
from thermsim.bench.fit.unknowns import unknowns_of
from thermsim.bench.fit.worth import Worth
from thermsim.bench.fit.written import check_block, check_names, fitted_name, fitted_toml
from thermsim.bench.logs.log import told
from thermsim.case.case import Case
from thermsim.physics.ranges import collect_ranges
from thermsim.store.whole import write_whole
from thermsim.studies.cautions import cautions
from thermsim.studies.stored import store

if TYPE_CHECKING:
    from thermsim.bench.logs.runs import BenchRun

Facts = dict[str, Any]
BLOCK_FILE = "fitted.toml"


def fit(
    case: Case,
    folder: str | Path,
    runs: Sequence[BenchRun] | None = None,
    also_watts: bool = False,
    progress: Callable[[float, float], None] | None = None,
) -> Facts:
    """Match the case to its runs (those of its [bench] unless given); facts, also stored as `fit.json`.

    The matched options stand in "toml", and in the folder as `fitted.toml`. Raises `CaseError` for what cannot be
    matched, `SolveFailed` where the case has no steady state.
    """
    if runs is None:
        from thermsim.bench.logs.runs import runs_of

        runs = runs_of(case)
    began = process_time()
    data = run_data(case, runs)
    check_names(case, [fitted_name(case, run.option) for run in data])
    unknowns = unknowns_of(case, {run.option: case.with_option(run.option) for run in data}, also_watts)
    held = held_out(case, data, unknowns)
    matching = Matching(Trials(data, held.run, unknowns, progress), held, case.spec.bench)
    with collect_ranges():  # what a trial value strains is no news
        worth = Worth(matching, matching.solve())
    facts = _facts(case, worth)
    facts["cost"] = _cost(matching.trials, process_time() - began)
    facts["answer"] = answer_of(facts)
    facts["warnings"] += warnings_of(facts)
    check_block(case, facts["toml"], facts["fitted_options"])
    path = store(folder, case, facts)
    write_whole(path.with_name(BLOCK_FILE), facts["toml"])
    return facts


def _facts(case: Case, worth: Worth) -> Facts:
    runs = worth.matching.runs
    before, after = training_rms(worth)
    options = list(dict.fromkeys(run.option for run in runs))
    return {
        "study": "fit",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": None,
        "runs": [told(run.log) | {"option": run.option or "base", "held": run.name == worth.matching.held.run}
                 for run in runs],
        "step_s": float(runs[0].time[1] - runs[0].time[0]),
        "unknowns": worth.told(),
        "correlations": worth.alone.round(4).tolist(),
        "degenerate": worth.groups(),
        "converged": worth.matched.solution.converged,
        "reduced_chi_square": worth.reduced_chi_square,
        "independent_readings": worth.independent,
        "readings": sum(one["readings"] for one in channel_facts(worth)),
        "rms_before_k": before,
        "rms_after_k": after,
        "rms_explained_k": explained_rms(worth),
        "channels": channel_facts(worth),
        "held_out": held_out_facts(worth),
        "traces": traces(worth),
        "fitted_options": [fitted_name(case, option) for option in options],
        "toml": fitted_toml(case, worth),
        "answer": [],
        "warnings": [str(problem) for problem in case.warnings]
        + [f"{run.name}: {text}" for run in runs for text in run.log.doubts],
        "cautions": cautions(case),
    }  # fmt: skip


def _cost(trials: Trials, processor_s: float) -> Facts:
    every = trials.histories.values()
    return {
        "processor_s": processor_s, "histories": trials.evaluations,
        "told_by_family": sum(one.told for one in every), "in_full": sum(one.in_full for one in every),
    }  # fmt: skip

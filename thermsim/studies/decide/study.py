"""The whole comparison: runs, shares of the cheap steps, limits in every state, firmness, the decision."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from thermsim.case.case import Case, digest_of
from thermsim.solve.engine import Engine
from thermsim.solve.factor import SolveFailed
from thermsim.solve.noise import unstated
from thermsim.store.result import Result
from thermsim.studies.cautions import cautions
from thermsim.studies.compare import Runs, option_cases
from thermsim.studies.decide.answer import answer
from thermsim.studies.decide.decision import decision, must_haves, nominal
from thermsim.studies.decide.draws import batches, settle_batch
from thermsim.studies.decide.mishaps import what_happens
from thermsim.studies.decide.roles import BASE, DESIGNS, Role, named, roles
from thermsim.studies.decide.sensors import sensors_compared
from thermsim.studies.decide.states import courses, how_chosen, state_facts
from thermsim.studies.decide.trials import trials
from thermsim.studies.frozen import frozen, is_governed
from thermsim.studies.kept import Kept
from thermsim.studies.limits.entry import together
from thermsim.studies.settled import Settler, what_moves
from thermsim.studies.stored import store
from thermsim.studies.sweep.sampling import common_draws
from thermsim.studies.where import HERE, Where
from thermsim.studies.workers import Piece, Progress, work

Facts = dict[str, Any]
DRAWS = 64
SEED = 1
RUNS, DESIGNS_SETTLED, ALL = 0.5, 0.6, 1.0  # of the time, about


def compare_study(
    case: Case,
    folder: str | Path,
    options: Sequence[str] | None = None,
    where: Where = HERE,
    progress: Progress | None = None,
    engine: Engine = "reduced",
    draws: int = DRAWS,
) -> tuple[dict[str, Result], Facts]:
    """`compare`, and what the decision rests on; stores all of that as `compare.json` in `folder`.

    `draws`: samples of the inputs that are not known well, the same for every design; 0 for none. Finished pieces are
    kept in the folder, so a call that was interrupted goes on. A shard shares out all of it: runs, settled states and
    samples; the base case's states, which the others' frozen speeds come from, every shard settles for itself.
    """
    folder = Path(folder)
    runs = Runs(option_cases(case, options), folder, engine)
    cases = {BASE: case.with_option(None), **runs.cases}
    playing = roles(cases)
    designs = named(playing, *DESIGNS)
    with Kept.of(folder, "compare", where.shard) as kept:
        runs.finish(where, part_of(progress, 0.0, RUNS))
        settled = _settle_designs({name: cases[name] for name in designs}, kept, where, progress)
        there = {name: cases[name] for name in designs if name in runs.cases}
        samples = _settle_samples(there, draws, kept, where, progress)
    where.end_of_share()
    results = runs.results()
    facts = _facts(cases, playing, results, settled, samples)
    store(folder, case, facts)
    return results, facts


def settle_design(case: Case, speeds: Mapping[str, float] | None) -> Facts:
    """Where an option settles, where with its governors frozen (at `speeds`, or its own), and in every state."""
    settler = Settler()
    live = _or_failed(lambda: settler.settle(case).facts())
    found: Facts = {"live": live, "frozen": None}
    if is_governed(case) and "failed" not in live:
        twin = frozen(case, live["speeds"] if speeds is None else speeds)
        found["frozen"] = _or_failed(lambda: settler.settle(twin).facts())
    found["states"] = {
        state: _or_failed(partial(state_facts, case, state, course, settler)) for state, course in courses(case).items()
    }
    return found


def _or_failed(facts: Callable[[], Facts]) -> Facts:
    try:
        return facts()
    except SolveFailed as error:
        return {"failed": str(error)}


def _settle_designs(cases: Mapping[str, Case], kept: Kept, where: Where, progress: Progress | None) -> dict[str, Facts]:
    """`settle_design` of each, the base case first: its speeds are what the others are frozen at."""
    (base,) = work([_design_piece(cases[BASE], None)], kept, where.whole())
    speeds = base["live"].get("speeds", {})
    others = [name for name in cases if name != BASE]
    pieces = [_design_piece(cases[name], speeds) for name in others]
    found = work(pieces, kept, where, part_of(progress, RUNS, DESIGNS_SETTLED))
    return {BASE: base} | dict(zip(others, found, strict=True))


def _design_piece(case: Case, speeds: Mapping[str, float] | None) -> Piece:
    return Piece(digest_of([case.content(), speeds, courses(case)]), settle_design, (case, speeds))


def _settle_samples(
    cases: Mapping[str, Case], draws: int, kept: Kept, where: Where, progress: Progress | None
) -> dict[str, list[Facts]] | None:
    """Settled samples by option, the unchanged one first; None where none are asked for."""
    if draws == 0 or not cases:
        return None
    every = list(batches(common_draws(cases, draws, SEED), cases))
    pieces = [Piece(key, settle_batch, (cases[name], samples)) for key, name, samples in every]
    found: dict[str, list[Facts]] = {name: [] for name in cases}
    settled = work(pieces, kept, where, part_of(progress, DESIGNS_SETTLED, ALL))
    for (_, name, _), facts in zip(every, settled, strict=True):
        found[name] += facts.get("samples", [])  # of a shard, others' samples may not be there
    return found


def _facts(
    cases: Mapping[str, Case],
    playing: Mapping[str, Role],
    results: Mapping[str, Result],
    settled: Mapping[str, Facts],
    samples: Mapping[str, Sequence[Facts]] | None,
) -> Facts:
    base = cases[BASE]
    asked = courses(base)
    summaries = {name: result.summary for name, result in results.items()}
    states = {name: settled[name]["states"] if name in settled else {} for name in results}
    live = {name: told["live"] for name, told in settled.items()}
    held = {name: told["frozen"] for name, told in settled.items() if told["frozen"] is not None}
    designs = [name for name in named(playing, *DESIGNS) if name in results]
    told: Facts = {
        "study": "compare",
        "title": base.title,
        "invented": base.spec.case.invented,
        "option": None,
        "answer": [],
        "options": summaries,
        "roles": dict(playing),
        "live": live,
        "frozen": held,
        "base_speeds": live[BASE].get("speeds", {}),
        "driven": sorted({device for governor in base.spec.governor.values() for device in governor.drives}),
        "noise_without": {name: left_out for name, one in cases.items() if (left_out := unstated(one.spec))},
        "trials": trials(cases, playing, live, held),
        "sensors": sensors_compared(results, playing),
        "mishaps": {name: what_happens(result) for name, result in results.items() if result.case.mishaps},
        "states": {"asked": asked, "how": how_chosen(base), "options": states},
        "uncertainty": {"temperature_k": base.spec.decide.uncertainty, "noise_db": base.spec.decide.noise_uncertainty},
        "decision": decision(
            {name: nominal(cases[name], summaries[name], states[name]) for name in designs},
            {name: must_haves(summaries[name], states[name], asked if name in settled else ()) for name in results},
            samples,
        ) if designs else None,
        "limits": together({name: summary["limits"] for name, summary in summaries.items()}),
        "warnings": [
            *dict.fromkeys(text for summary in summaries.values() for text in summary["warnings"]),
            *dict.fromkeys(text for name in designs for text in what_moves(cases[name])),
        ],
        "cautions": list(dict.fromkeys(text for case in cases.values() for text in cautions(case))),
    }  # fmt: skip
    told["answer"] = answer(told)
    return told


def part_of(progress: Progress | None, start: float, stop: float) -> Progress | None:
    """Progress of one part of the work as progress of the whole."""
    if progress is None:
        return None
    return lambda done, total: progress(start + (stop - start) * done / total, 1.0)

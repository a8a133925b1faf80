"""What changed from before to after on the bench, and whether the model told the truth."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from thermsim.bench.logs.runs import BenchRun, runs_of
from thermsim.bench.paired import truth
from thermsim.bench.paired.answer import answer
from thermsim.bench.paired.carried import noise
from thermsim.bench.paired.changes import Change, changes, together
from thermsim.bench.paired.comparable import doubts
from thermsim.bench.paired.judge import by_chance, held_sensors, model_judged, nearest_limit
from thermsim.bench.paired.record import Record, of_same_watts, record_of
from thermsim.bench.paired.told import run_told, settings_told, warnings_of_runs
from thermsim.bench.paired.warming import stand_told, warmed
from thermsim.case.case import Case
from thermsim.case.errors import CaseError, Problem
from thermsim.studies.cautions import cautions
from thermsim.studies.stored import store

Facts = dict[str, Any]
Progress = Callable[[float, float], None]
STANDS = ("before", "after")
SHOWN = 4  # traces


def bench(case: Case, folder: str | Path, model: bool = True, progress: Progress | None = None) -> Facts:
    """Compare the case's runs before and after; facts, also stored as `bench.json`.

    `model`: run the case as each run was logged and set it beside. Raises `CaseError` for runs that cannot be compared.
    """
    runs = {stands: [run for run in runs_of(case) if run.stands == stands] for stands in STANDS}
    _require(case, runs)
    settings = case.spec.bench
    records = _records(case, runs)
    before, after = records["before"], records["after"]
    found = changes(before, after, settings)
    if not found:
        names = " and ".join(f"{stands}: {', '.join(records[stands][0].channels)}" for stands in STANDS)
        raise _problem(case, "run", f"no channel has an end both before and after ({names})")
    cases = {stands: case.with_option(records[stands][0].option) for stands in STANDS}
    holm = together(found)
    rows = [{**change.facts(), "chance_together": holm.get(change.channel), "model": None} for change in found]
    facts: Facts = {
        "study": "bench", "title": case.title, "invented": case.spec.case.invented, "option": after[0].option,
        "options": {stands: records[stands][0].option for stands in STANDS},
        "counts": {stands: len(records[stands]) for stands in STANDS},
        "settings": settings_told(case),
        "runs": [run_told(cases[stands], run, record) for stands in STANDS
                 for run, record in zip(runs[stands], records[stands], strict=True)],
        "rows": rows,
        "nearest_limit": nearest_limit(cases["after"], after),
        "held": held_sensors(cases, records),
        "noise": {stands: noise(records[stands]) for stands in STANDS},
        "model": None, "traces": {},
    }  # fmt: skip
    facts["warm_up"] = {stands: stand_told([run["warm_up"] for run in _of(facts, stands)]) for stands in STANDS}
    if model:
        _set_model_beside(case, records, found, facts, progress)
    facts["warnings"] = [*doubts(before, after), *by_chance(facts), *warnings_of_runs(facts)]
    facts["cautions"] = cautions(cases["after"])
    facts["answer"] = answer(facts)
    store(folder, case, facts)
    return facts


def _require(case: Case, runs: dict[str, list[BenchRun]]) -> None:
    for stands, some in runs.items():
        if not some:
            message = (
                f'no run stands "{stands}"; name one, [bench.run."{stands} 1"] with file and '
                f'stands = "{stands}", or give --{stands} FILE'
            )
            raise _problem(case, "run", message)
        options = list(dict.fromkeys(run.option or "base" for run in some))
        if len(options) > 1:
            raise _problem(case, "run", f"runs that stand {stands} are of several options: {', '.join(options)}")
    counts = {stands: len(some) for stands, some in runs.items()}
    if case.spec.bench.paired and len(set(counts.values())) > 1:
        raise _problem(
            case,
            "paired",
            f"pairs need as many runs before as after; there are {counts['before']} and {counts['after']}",
        )


def _records(case: Case, runs: dict[str, list[BenchRun]]) -> dict[str, list[Record]]:
    window, found = case.spec.bench.window, []
    for stands in STANDS:
        for run in runs[stands]:
            try:
                found.append(record_of(run.name, stands, run.option, run.log, window))
            except ValueError as error:
                if isinstance(error, CaseError):
                    raise
                raise CaseError([Problem(str(run.path), None, f'run "{run.name}"', str(error))]) from None
    window = min(record.window for record in found)  # one for all
    found = [replace(record, window=window, _ends={}) for record in found]
    if case.spec.bench.same_watts:
        found = of_same_watts(found)
    return {stands: [record for record in found if record.stands == stands] for stands in STANDS}


def _problem(case: Case, key: str, message: str) -> CaseError:
    return CaseError([case.problem(("bench", key), message)])


def _of(facts: Facts, stands: str) -> list[Facts]:
    return [run for run in facts["runs"] if run["stands"] == stands]


def _set_model_beside(
    case: Case, records: dict[str, list[Record]], found: Sequence[Change], facts: Facts, progress: Progress | None
) -> None:
    total, done = sum(len(some) for some in records.values()), 0

    def step() -> None:
        nonlocal done
        done += 1
        if progress:
            progress(done, total)

    stands = {name: truth.stand_of(case, some, step) for name, some in records.items()}
    before, after = stands["before"], stands["after"]
    if before is None or after is None:
        facts["model"] = {"why_not": "the model found no solution for the runs as they were logged"}
        return
    for row, change in zip(facts["rows"], found, strict=True):
        row["model"] = truth.told(change, before, after, case.spec.bench)
    facts["model"] = model_judged(facts)
    for name, stand in (("before", before), ("after", after)):
        told = [warmed(record, case.spec.run.settle) for record in truth.modelled_records(stand)]
        facts["warm_up"][f"model_{name}"] = stand_told(told)
    shown = _worth_showing(facts["rows"])
    facts["traces"] = {name: truth.traces(stand, shown) for name, stand in (("before", before), ("after", after))}


def _worth_showing(rows: Sequence[Facts]) -> list[str]:
    """The temperatures where the model is furthest off, then those that changed most; parts before others."""
    some = [row for row in rows if row["is_rise"] and row["model"]]
    some = [row for row in some if row["channel"].startswith("part.")] or some
    by_miss = sorted(some, key=lambda row: -max(abs(row["model"]["off_before"]), abs(row["model"]["off_after"])))
    by_change = sorted(some, key=lambda row: -abs(row["change"]))
    names = [row["channel"] for row in (*by_miss[: SHOWN // 2], *by_change)]
    return list(dict.fromkeys(names))[:SHOWN]

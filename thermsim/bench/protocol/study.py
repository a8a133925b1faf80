"""The protocol of a before/after test: what to log, how long, how often, in which order, and what to beware of."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermsim.bench.protocol.columns import block, columns_of, expected
from thermsim.bench.protocol.plan import (
    CUSTOMARY,
    INTERVAL,
    MOST,
    cold_soak,
    order_of,
    repeatability,
    repeats_for,
    resolved_by,
    run_length,
)
from thermsim.bench.protocol.stands import rebuilt, stands
from thermsim.bench.protocol.steps import sections
from thermsim.case.case import Case
from thermsim.case.errors import CaseError, Problem
from thermsim.studies.cautions import cautions
from thermsim.studies.settled import what_moves
from thermsim.studies.stored import store
from thermsim.units import UnitError, quantity

Facts = dict[str, Any]
SEED = 1


def protocol_of(case: Case, resolve: str | None = None, folder: str | Path | None = None, seed: int = SEED) -> Facts:
    """A checklist made from a case; facts, also stored as `protocol.json` in `folder`.

    `resolve`: the difference that should come out significant, "0.5 K"; without it the customary three runs each.
    Raises `CaseError` where that takes too many runs, `NoPath` or `SolveFailed` where the box finds no rest.
    """
    wanted = None if resolve is None else _difference(resolve)
    scatter, freedom = repeatability(case)
    count = CUSTOMARY if wanted is None else _count(wanted, scatter)
    found = stands(case)
    shuffled = not rebuilt(found)
    order = order_of([stand.name for stand in found], count, seed if shuffled else None)
    columns = columns_of(case, found)
    criterion = case.spec.run.criterion
    plan = {
        "criterion": criterion,
        "interval_s": INTERVAL,
        "slowest_s": max(stand.slowest for stand in found),
        "run_s": max(run_length(stand, criterion) for stand in found),
        "soak_s": max(cold_soak(stand) for stand in found),
        "runs_each": count,
        "order": order,
        "shuffled": shuffled,
        "seed": seed,
        "repeatability_k": scatter,
        "repeatability_freedom": freedom,
        "resolves_k": resolved_by(count, scatter),
    }
    facts: Facts = {
        "study": "protocol",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": found[-1].name if len(found) > 1 else case.option,
        "stands": [stand.name for stand in found],
        "room_degc": found[0].case.spec.room.temperature,
        "plan": plan,
        "columns": expected(columns, found),
        "block": block(case, columns, order, found),
    }
    facts["sections"] = sections(case, found, facts)
    facts["answer"] = _answer(facts)
    facts["warnings"] = [*what_moves(case), *_doubts(facts)]
    facts["cautions"] = list(dict.fromkeys(text for stand in found for text in cautions(stand.case)))
    if folder is not None:
        store(folder, case, facts)
    return facts


def _difference(text: str) -> float:
    try:
        difference = quantity(text, "difference")
    except UnitError as error:
        raise _refused(str(error)) from None
    if difference <= 0:
        raise _refused(f"must be above 0; got {text}")
    return difference


def _count(wanted: float, scatter: float) -> int:
    count = repeats_for(wanted, scatter)
    if count is None:
        least = resolved_by(MOST, scatter)
        raise _refused(
            f"{wanted:g} K takes more than {MOST} runs each, which tell {least:.2f} K; a steadier room first"
        )
    return count


def _refused(message: str) -> CaseError:
    return CaseError([Problem("--resolve", None, "", message)])


def _answer(facts: Facts) -> list[str]:
    plan, count = facts["plan"], facts["plan"]["runs_each"]
    names = facts["stands"]
    each = f"{count} runs each of “{names[0]}” and “{names[1]}”" if len(names) > 1 else f"{count} runs of “{names[0]}”"
    hours = len(plan["order"]) * (plan["run_s"] + plan["soak_s"]) / 3600
    found = [
        f"{each}, {plan['run_s'] / 60:.0f} min from cold, with {plan['soak_s'] / 60:.0f} min to cool between: about "
        f"{hours:.0f} h {_rebuild(facts)}. {len(facts['columns'])} columns, a reading every "
        f"{plan['interval_s']:.0f} s.",
        f"So many runs find a change of {plan['resolves_k']:.1f} K nine times in ten, {_scatter(plan)}.",
    ]
    changes = [(row["channel"], row["change_k"]) for row in _parts(facts) if row["change_k"] is not None]
    if changes:
        most, least = min(changes, key=lambda one: one[1]), max(changes, key=lambda one: one[1])
        found.append(
            f"The model expects {_named(most[0])} to change by {most[1]:+.1f} K and {_named(least[0])} by "
            f"{least[1]:+.1f} K. Watch {_named(facts['columns'][0]['channel'])}: it has the least margin."
        )
    return [text.replace(" -", " −") for text in found]


def _rebuild(facts: Facts) -> str:
    if facts["plan"]["shuffled"]:
        return "in all"
    wet = any(section["title"].startswith("The loop") for section in facts["sections"])
    return f"of runs, and the rebuild{', its leak test and its 24 h wet run' if wet else ''} between"


def _scatter(plan: Facts) -> str:
    if plan["repeatability_freedom"]:
        return f"for the case's own runs scatter by {plan['repeatability_k']:.2f} K"
    return f"if runs repeat within {plan['repeatability_k']:g} K (assumed: common practice, no source)"


def _doubts(facts: Facts) -> list[str]:
    """Changes that drown, and limits that the runs themselves would break."""
    found, told = [], facts["plan"]["resolves_k"]
    lost = [
        _named(row["channel"]) for row in _parts(facts) if row["change_k"] is not None and abs(row["change_k"]) < told
    ]
    if lost:
        found.append(f"changes too small to be told by so many runs: {', '.join(lost)}")
    for stand in facts["stands"]:
        parts = [row for row in _parts(facts) if row["values"][stand] is not None and row["limit_degc"] is not None]
        over = [
            f"{_named(row['channel'])} at {row['values'][stand]:.1f} °C, limit {row['limit_degc']:g}"
            for row in parts if row["values"][stand] > row["limit_degc"]
        ]  # fmt: skip
        if over:
            found.append(
                f"by the model “{stand}” breaks limits ({'; '.join(over)}): decide first how long that may last"
            )
    return found


def _parts(facts: Facts) -> Sequence[Facts]:
    return [row for row in facts["columns"] if row["channel"].startswith("part.")]


def _named(channel: str) -> str:
    return channel.removeprefix("part.").replace("_", " ")

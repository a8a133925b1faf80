"""The book of every loop of one option, or of several: at the state where the case settles."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.case.deciding_checks import named_states
from thermsim.studies.cautions import cautions
from thermsim.studies.chosen import cases_with, limits_in, warnings_of
from thermsim.studies.kept import Kept
from thermsim.studies.loop.answer import answer
from thermsim.studies.loop.branches import branch_facts
from thermsim.studies.loop.changes import change_rows, standing
from thermsim.studies.loop.elements import element_rows, liquid_facts
from thermsim.studies.loop.filling import fill_facts
from thermsim.studies.loop.findings import findings, limits_of
from thermsim.studies.loop.materials import material_facts
from thermsim.studies.loop.pump import pump_facts
from thermsim.studies.loop.walk import legs
from thermsim.studies.settled import Settled, Settler
from thermsim.studies.stored import store
from thermsim.studies.summary_flows import exchange_told
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import START_S, Piece, Progress, work

Facts = dict[str, Any]


def loop_study(
    case: Case,
    folder: str | Path,
    options: Sequence[str] = (),
    where: Where = IN_THIS_PROCESS,
    progress: Progress | None = None,
) -> Facts:
    """Books of the loops of the options chosen ("base" is the case itself), also stored as `loop.json` in `folder`.

    By default of every option that has a loop and no mishap of its own. Books are kept in the folder as they come.
    Raises `CaseError` where there is no loop or an option is unknown, `NoPath` or `SolveFailed` where a state is not
    found.
    """
    cases = cases_with(case, "loop", options)
    pieces = [Piece(one.content(), books_of, (one,)) for one in cases.values()]
    with Kept.of(folder, "loop", where.shard) as kept:
        done = work(pieces, kept, where, progress, START_S)
    where.end_of_share()
    books = [{"option": name} | told for name, facts in zip(cases, done, strict=True) for told in facts["books"]]
    facts: Facts = {
        "study": "loop",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": books[0]["option"] if len(cases) == 1 else None,
        "books": books,
    }
    facts["answer"] = answer(books)
    facts["limits"], facts["warnings"] = limits_in(books), warnings_of(cases, books)
    facts["cautions"] = list(dict.fromkeys(text for one in cases.values() for text in cautions(one)))
    store(folder, case, facts)
    return facts


def books_of(case: Case) -> Facts:
    """Books of all loops of a case, as "books"."""
    settler = Settler()
    settled = settler.settle(case)
    return {"books": [book(case, settled, loop, settler) for loop in case.spec.loop]}


def book(case: Case, settled: Settled, loop: str, settler: Settler) -> Facts:
    """Everything about one loop at its settled state, plain values."""
    walked = legs(settled, loop)
    rows = element_rows(settled, loop, walked)
    spec = case.spec
    told: Facts = {
        "loop": loop,
        "state": spec.run.state if named_states(spec) else None,
        "coolant": str(settled.model.operating.loops[loop].coolant),
        "mean_degc": settled.steady.conditions.loops[loop].temperature_degc,
        "liquid": liquid_facts(settled.steady.conditions.loops[loop].liquid),
        "settles": settled.steady.settles,
        "pump": pump_facts(settled, loop) | _pump_leg(walked[spec.loop[loop].pump].__dict__),
        "elements": rows,
        "radiators": {
            row["element"]: exchange_told(settled.model, settled.steady, row["element"])
            for row in rows if row["element"].startswith("radiator.")
        },
        "branches": branch_facts(settled, loop, walked),
        "standing": standing(settled, loop),
        "fill": fill_facts(settled, loop),
        "materials": material_facts(spec, loop, rows),
    }  # fmt: skip
    told["findings"], told["limits"] = findings(told), list(limits_of(told))
    told["changes"] = change_rows(case, settled, loop, settler)
    return told


def _pump_leg(leg: Facts) -> Facts:
    return {"inlet_degc": leg["inlet_degc"], "outlet_degc": leg["outlet_degc"], "into_coolant_w": leg["watts"]}

"""The book of every loop of one option, or of several: at the state where the case settles."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.case.deciding_checks import named_states
from thermsim.studies.cautions import cautions
from thermsim.studies.chosen import cases_with, warnings_of
from thermsim.studies.loop.answer import answer
from thermsim.studies.loop.branches import branch_facts
from thermsim.studies.loop.changes import change_rows, standing
from thermsim.studies.loop.elements import element_rows, liquid_facts
from thermsim.studies.loop.filling import fill_facts
from thermsim.studies.loop.findings import findings
from thermsim.studies.loop.materials import material_facts
from thermsim.studies.loop.pump import pump_facts
from thermsim.studies.loop.walk import legs
from thermsim.studies.settled import Settled, Settler
from thermsim.studies.stored import store
from thermsim.studies.summary_flows import exchange_told

Facts = dict[str, Any]
Progress = Callable[[float, float], None]


def loop_study(case: Case, folder: str | Path, options: Sequence[str] = (), progress: Progress | None = None) -> Facts:
    """Books of the loops of the options chosen ("base" is the case itself), also stored as `loop.json` in `folder`.

    By default of every option that has a loop and no mishap of its own. Raises `CaseError` where there is no loop or
    an option is unknown, `NoPath` or `SolveFailed` where a state is not found.
    """
    cases = cases_with(case, "loop", options)
    books: list[Facts] = []
    settler = Settler()
    for done, (name, one) in enumerate(cases.items(), start=1):
        settled = settler.settle(one)
        books += [{"option": name} | book(one, settled, loop, settler) for loop in one.spec.loop]
        if progress:
            progress(done, len(cases))
    facts: Facts = {
        "study": "loop",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": books[0]["option"] if len(cases) == 1 else None,
        "books": books,
    }
    facts["answer"] = answer(books)
    facts["warnings"] = warnings_of(cases, books)
    facts["cautions"] = list(dict.fromkeys(text for one in cases.values() for text in cautions(one)))
    store(folder, case, facts)
    return facts


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
    told["findings"] = findings(told)
    told["changes"] = change_rows(case, settled, loop, settler)
    return told


def _pump_leg(leg: Facts) -> Facts:
    return {"inlet_degc": leg["inlet_degc"], "outlet_degc": leg["outlet_degc"], "into_coolant_w": leg["watts"]}

"""The heat pipes of one option, or of several: loads against capacities, tilted, and with one lost."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.physics.moist_air import saturation_pressure
from thermsim.studies.cautions import cautions
from thermsim.studies.chosen import cases_with, limits_in, warnings_of
from thermsim.studies.kept import Kept
from thermsim.studies.pipes.answer import answer, findings, limits_of
from thermsim.studies.pipes.bundle import book
from thermsim.studies.pipes.told import told_in_states
from thermsim.studies.stored import store
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import Progress

Facts = dict[str, Any]
SOLDER_DEGC = 200.0
ASSUMPTIONS = (
    "a bend leaves 0.9 of the capacity and flattening what is stated (common practice, no source): set bend_factor and "
    "flattening_factor by the maker's word",
    "capacities are those of the wick's suction alone, or the maker's, and good to a factor of 2; a working pipe has "
    "other limits when cold (sonic, start-up) and at high flux (boiling in the wick)",
)
KINK = (
    "Before a bent pipe is built in, dip one end and that of an untouched twin in water of 60 to 70 °C: a lag, or a "
    "step along its length, is scrap (common practice, no source)."
)


def pipes_study(
    case: Case,
    folder: str | Path,
    options: Sequence[str] = (),
    where: Where = IN_THIS_PROCESS,
    progress: Progress | None = None,
) -> Facts:
    """Books of the heat pipes of the options chosen ("base": the case itself), also stored as `pipes.json` in `folder`.

    By default of every option that has heat pipes and no mishap of its own. States are kept in the folder as they
    come. Raises `CaseError` where there are none or an option is unknown, `NoPath` or `SolveFailed` where a state is
    not found.
    """
    cases = cases_with(case, "heat_pipe", options)
    with Kept.of(folder, "pipes", where.shard) as kept:
        told_of = told_in_states(cases.values(), kept, where, progress)
    where.end_of_share()
    books = []
    for name, one in cases.items():
        told = {"option": name} | book(one, told_of)
        books.append(told | {"findings": list(findings(told)), "limits": list(limits_of(told))})
    facts: Facts = {
        "study": "pipes",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": books[0]["option"] if len(cases) == 1 else None,
        "books": books,
        "assumptions": list(ASSUMPTIONS),
    }
    facts["answer"] = answer(books)
    facts["limits"], facts["warnings"] = limits_in(books), warnings_of(cases, books)
    facts["cautions"] = [*dict.fromkeys(text for one in cases.values() for text in cautions(one)), hazard(), KINK]
    store(folder, case, facts)
    return facts


def hazard() -> str:
    """Why nobody solders at a heat pipe, with the pressure in it."""
    bar = saturation_pressure(SOLDER_DEGC) / 1e5
    return (
        f"Heat pipes hold water under its own vapour: at {SOLDER_DEGC:.0f} °C that is {bar:.1f} bar. Keep heat guns "
        "and irons away, and wear eye protection when bending."
    )

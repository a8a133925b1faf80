"""The heat pipes of one option, or of several: loads against capacities, tilted, and with one lost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.physics.moist_air import saturation_pressure
from thermsim.studies.cautions import cautions
from thermsim.studies.chosen import cases_with, warnings_of
from thermsim.studies.pipes.answer import answer, findings
from thermsim.studies.pipes.bundle import Told, book
from thermsim.studies.stored import store

Facts = dict[str, Any]
Progress = Callable[[float, float], None]
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


def pipes_study(case: Case, folder: str | Path, options: Sequence[str] = (), progress: Progress | None = None) -> Facts:
    """Books of the heat pipes of the options chosen ("base": the case itself), also stored as `pipes.json` in `folder`.

    By default of every option that has heat pipes and no mishap of its own. Raises `CaseError` where there are none or
    an option is unknown, `NoPath` or `SolveFailed` where a state is not found.
    """
    cases = cases_with(case, "heat_pipe", options)
    told_of, books = Told(), []
    for done, (name, one) in enumerate(cases.items(), start=1):
        told = {"option": name} | book(one, told_of)
        books.append(told | {"findings": list(findings(told))})
        if progress:
            progress(done, len(cases))
    facts: Facts = {
        "study": "pipes",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": books[0]["option"] if len(cases) == 1 else None,
        "books": books,
        "assumptions": list(ASSUMPTIONS),
    }
    facts["answer"] = answer(books)
    facts["warnings"] = warnings_of(cases, books)
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

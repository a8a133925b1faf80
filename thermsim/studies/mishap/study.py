"""Mishaps: pumps, fans, filters, branches, rooms, coolant that fail; time to the first limit, and what stays safe."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermsim.case.case import Case, digest_of
from thermsim.studies.cautions import cautions
from thermsim.studies.compare import option_cases
from thermsim.studies.decide.roles import BASE
from thermsim.studies.kept import Kept
from thermsim.studies.mishap.answer import answer, assumptions, limits_of, warnings_of
from thermsim.studies.mishap.cases import HORIZON_S
from thermsim.studies.mishap.strike import strike
from thermsim.studies.mishap.troubles import Trouble, chosen
from thermsim.studies.stored import store
from thermsim.studies.where import HERE, Where
from thermsim.studies.workers import Piece, Progress, work

Facts = dict[str, Any]
INTERLOCK = "Alarms and interlocks that people or property depend on are for qualified people to choose and to test."


def mishap(
    case: Case,
    folder: str | Path,
    options: Sequence[str] = (),
    names: Sequence[str] = (),
    where: Where = HERE,
    progress: Progress | None = None,
) -> Facts:
    """Let every option chosen ("base" is the case itself) suffer each mishap that concerns it, or those named.

    By default the options are the base case and all with a loop and no mishap of their own. The facts are also stored
    as `mishap.json` in `folder`; cases finished there are kept, so that a call that was interrupted goes on. Raises
    `CaseError` for an unknown option or mishap. Runs start in fresh processes unless `where` says otherwise: a script
    that calls this must do so under `if __name__ == "__main__":`.
    """
    cases = option_cases(case, list(options) or struck_by_default(case))
    struck = [(one, trouble) for option, one in cases.items() for trouble in chosen(cases, names)[option].values()]
    pieces = [Piece(_key(one, trouble), strike, (one, trouble)) for one, trouble in struck]
    with Kept.of(folder, "mishap", where.shard) as kept:
        found = work(pieces, kept, where, progress)
    where.end_of_share()
    told = [facts | {"option": one.option} for (one, _), facts in zip(struck, found, strict=True)]
    facts = {
        "study": "mishap",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": None,
        "followed_s": HORIZON_S,
        "cases": [one for one in told if "failed" not in one],
        "failed": [one for one in told if "failed" in one],
        "assumptions": assumptions(cases.values()),
    }
    facts["answer"] = answer(facts)
    facts["limits"] = limits_of(facts)
    facts["warnings"] = warnings_of(facts) + list(dict.fromkeys(str(p) for one in cases.values() for p in one.warnings))
    facts["cautions"] = [*dict.fromkeys(text for one in cases.values() for text in cautions(one)), INTERLOCK]
    store(folder, case, facts)
    return facts


def struck_by_default(case: Case) -> list[str]:
    """The base case, and options with a loop that hold no mishap of their own."""
    found = {name: case.with_option(name) for name in case.options}
    return [BASE, *(name for name, one in found.items() if one.spec.loop and not one.mishaps)]


def _key(case: Case, trouble: Trouble) -> str:
    return digest_of([case.content(), trouble.name, trouble.table, trouble.at])

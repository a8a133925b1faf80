"""The options that a study of one kind of cooling looks at, and its findings with the options they are of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any, Literal

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.lines import dotted
from thermsim.studies.compare import option_cases
from thermsim.studies.decide.roles import BASE
from thermsim.studies.limits.entry import Limit, together
from thermsim.studies.settled import what_moves
from thermsim.units import format_quantity

Facts = dict[str, Any]
Kind = Literal["loop", "heat_pipe"]


def cases_with(case: Case, kind: Kind, options: Sequence[str] = ()) -> dict[str, Case]:
    """The options chosen by name ("base": the case itself), by default all that have this and no mishap of their own.

    Raises `CaseError` for an unknown option, for one that has none or a mishap later on, and where no option has any.
    """
    what, names = kind.replace("_", " "), having(case, kind)
    if not names:
        raise CaseError([case.problem((kind,), f"no option of this case has a {what}")])
    cases = option_cases(case, list(options) or names)
    for name, one in cases.items():
        if not getattr(one.spec, kind):
            whose = "the base case" if name == BASE else f'option "{name}"'
            raise CaseError([case.problem((kind,), f"{whose} has no {what}; these have: {', '.join(names)}")])
        _refuse_late_mishaps(one)
    return cases


def _refuse_late_mishaps(case: Case) -> None:
    """What settles does so before a mishap that comes later: to tell it under the option's name would mislead."""
    for name in case.mishaps:
        at = case.spec.mishap[name].at
        if at > 0:
            when, key = format_quantity(at, "time"), dotted(("mishap", name, "at"))
            message = f'comes after {when}, when this study has settled: ask "thermsim mishap", or --set {key}="0 s"'
            raise CaseError([case.problem(("mishap", name, "at"), message)])


def having(case: Case, kind: Kind) -> list[str]:
    """Names of the options that have this and no mishap of their own, the case itself ("base") among them.

    An option that the changes of the case do not fit has not the thing they change.
    """
    found = []
    for name in (BASE, *case.options):
        with suppress(CaseError):
            one = case.with_option(None if name == BASE else name)
            if getattr(one.spec, kind) and not one.mishaps:
                found.append(name)
    return found


def limits_in(books: Sequence[Facts]) -> list[Limit]:
    """Limits of books together, each name once, with their options."""
    told: dict[str, list[Limit]] = {}
    for one in books:
        told.setdefault(one["option"], []).extend(one["limits"])
    return together(told)


def warnings_of(cases: Mapping[str, Case], books: Sequence[Facts]) -> list[str]:
    """Findings of books, with their options unless they hold for all, and what the cases themselves warn of."""
    whose: dict[str, dict[str, None]] = {}
    for told in books:
        for text in told["findings"]:
            whose.setdefault(text, {})[told["option"]] = None
    found = [text if len(names) == len(cases) else f"{', '.join(names)}: {text}" for text, names in whose.items()]
    found += [text for one in cases.values() for text in (*what_moves(one), *map(str, one.warnings))]
    return list(dict.fromkeys(found))

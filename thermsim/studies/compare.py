"""Every option of a case, run side by side on the machine's cores."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.names import slug
from thermsim.solve.engine import Engine
from thermsim.store.result import Result, read_result, read_stamp
from thermsim.studies.decide.roles import BASE
from thermsim.studies.run import run
from thermsim.studies.workers import Piece, as_done

Progress = Callable[[float, float], None]


def compare(
    case: Case,
    folder: str | Path,
    options: Sequence[str] | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
    engine: Engine = "reduced",
) -> dict[str, Result]:
    """Run the base case and every option (or those named) into folders of `folder`; results by option name.

    A finished result of the very same case and version is taken as it is, so a call that was interrupted goes
    on where it stopped. The order is that of the case file. Runs start in fresh processes: a script that calls
    this must do so under `if __name__ == "__main__":`.
    """
    cases = option_cases(case, options)
    places = {name: option_folder(folder, name) for name in cases}
    pieces = [
        Piece(name, _run_one, (one, places[name], engine))
        for name, one in cases.items()
        if not is_finished(one, places[name], engine)
    ]
    for done, _ in enumerate(as_done(pieces, workers), start=len(cases) - len(pieces) + 1):
        if progress:
            progress(done, len(cases))
    return {name: read_result(places[name]) for name in cases}


def option_cases(case: Case, options: Sequence[str] | None = None) -> dict[str, Case]:
    """The base case ("base") and every option, or those named, in order.

    Raises `CaseError` that names the option where a change of the case does not fit it.
    """
    names = [BASE, *case.options] if options is None else list(dict.fromkeys(options))
    return {name: _option_case(case, name) for name in names}


def _option_case(case: Case, name: str) -> Case:
    try:
        return case.with_option(None if name == BASE else name)
    except CaseError as error:
        if name not in case.options:
            raise
        problems = [replace(one, message=f"{one.message} (in option {name})") for one in error.problems]
        raise CaseError(problems) from None


def option_folder(folder: str | Path, name: str) -> Path:
    """Where the result of an option is kept in a case's folder."""
    return Path(folder) / slug(name)


def is_finished(case: Case, folder: Path, engine: Engine = "reduced") -> bool:
    """Whether a folder holds the whole result of this very case, made by this version and engine."""
    return read_stamp(folder / "result.h5") == (case.fingerprint(), version("thermsim"), engine)


def _run_one(case: Case, folder: Path, engine: Engine) -> None:
    run(case, folder, engine=engine)

"""Every option of a case, run side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.names import slug
from thermsim.solve.engine import Engine
from thermsim.store.result import Result, read_result, read_stamp
from thermsim.store.whole import write_whole
from thermsim.studies.alike import results_by_content, take_over
from thermsim.studies.decide.roles import BASE
from thermsim.studies.run import run
from thermsim.studies.where import HERE, Where
from thermsim.studies.workers import Piece, Progress, do

Files = dict[str, bytes]
STORED = ("summary.json", "result.h5")  # the result last: it is what tells that a run is finished


def compare(
    case: Case,
    folder: str | Path,
    options: Sequence[str] | None = None,
    where: Where = HERE,
    progress: Progress | None = None,
    engine: Engine = "reduced",
) -> dict[str, Result]:
    """Run the base case and every option (or those named) into folders of `folder`; results by option name.

    A finished result of the very same case and version is taken as it is, so a call that was interrupted goes
    on where it stopped. The order is that of the case file. Runs start in fresh processes unless `where` says
    otherwise: a script that calls this must do so under `if __name__ == "__main__":`.
    """
    runs = Runs(option_cases(case, options), Path(folder), engine)
    runs.finish(where, progress)
    where.end_of_share()
    return runs.results()


@dataclass(frozen=True)
class Runs:
    """Runs of options, each in a folder of its own under `folder`; a home of pieces by option name."""

    cases: Mapping[str, Case]
    folder: Path
    engine: Engine

    def finish(self, where: Where, progress: Progress | None = None) -> None:
        """Run what is not finished, of a shard its share. Of cases alike under several names, or an old one, one run
        serves.
        """
        self._take_over()
        do(self._pieces(where), self, where, progress)
        self._take_over()

    def _pieces(self, where: Where) -> list[Piece]:
        """A piece a case. With another's workers there may be no folder in common: these send their files back."""
        away = where.executor is not None
        firsts = {case.content(): name for name, case in reversed(list(self.cases.items()))}
        return [
            Piece(name, run_away, (case, self.engine))
            if away
            else Piece(name, run_there, (case, self._place(name), self.engine))
            for name, case in self.cases.items()
            if firsts[case.content()] == name
        ]

    def _take_over(self) -> None:
        """Take results of the very same cases that were stored under other names."""
        missing = [name for name in self.cases if not self.has(name)]
        stored = results_by_content(self.folder, self.engine) if missing else {}
        for name in missing:
            alike = stored.get(self.cases[name].content())
            if alike is not None:
                take_over(alike, self.cases[name], self._place(name))

    def has(self, key: str) -> bool:
        """Whether an option's run is finished."""
        return is_finished(self.cases[key], self._place(key), self.engine)

    def put(self, key: str, outcome: Files | None) -> None:
        """Write the files that were sent back; None if they are there."""
        if outcome is not None:
            for name in STORED:
                write_whole(self._place(key) / name, outcome[name])

    def results(self) -> dict[str, Result]:
        """What is stored, by option name."""
        return {name: read_result(self._place(name)) for name in self.cases}

    def _place(self, name: str) -> Path:
        return option_folder(self.folder, name)


def run_there(case: Case, folder: Path, engine: Engine) -> None:
    """Run a case into a folder."""
    run(case, folder, engine=engine)


def run_away(case: Case, engine: Engine) -> Files:
    """Run a case into a folder for the moment; the files of its result."""
    with TemporaryDirectory(prefix="thermsim-") as folder:
        run(case, folder, engine=engine)
        return {name: (Path(folder) / name).read_bytes() for name in STORED}


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

"""Asking: each command's own public function, on a case file of the package."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from thermsim.case import Case, load_case
from thermsim.verify.checkfile import Ask, Check, Row
from thermsim.verify.reading import Answer, got

Facts = dict[str, Any]


def examine_check(name: str, check: Check, folder: Path) -> list[Facts]:
    """The rows of a check whose files are in `folder`, judged. What goes wrong is a row not met, with its message."""
    started = time.perf_counter()
    answers: dict[str, Answer] = {}
    wrong: dict[str, str] = {}
    for label, ask in check.ask.items():
        try:
            answers[label] = answer_of(folder / "case.toml", ask)
        except Exception as error:  # whatever it is, the figure is not met, and the other checks go on
            wrong[label] = _message(error)
    about = {"check": name} | check.model_dump(include={"title", "section", "source", "from_memory"})
    rows = [about | judged(row, next(iter(check.ask)), answers, wrong) for row in check.row]
    rows[0]["seconds"] = round(time.perf_counter() - started, 3)
    return rows


def judged(row: Row, first: str, answers: Mapping[str, Answer], wrong: Mapping[str, str]) -> Facts:
    """A row beside what came out. `first`: the ask it reads by default; `wrong`: messages of asks that failed."""
    value, message = None, next((wrong[label] for label in row.asks(first) if label in wrong), None)
    if message is None:
        try:
            value = got(row, answers, first)
        except Exception as error:
            message = _message(error)
    return {
        "quantity": row.quantity,
        "unit": row.unit,
        "expected": row.expected,
        "tolerance": row.allowed,
        "values": max(1, len(row.table)),
        "got": value,
        "error": message,
        "passed": value is not None and abs(value - row.expected) <= row.allowed,
    }


def answer_of(path: Path, ask: Ask) -> Answer:
    """What one command tells of a case file. Nothing of it is kept on disk."""
    case = load_case(path, ask.option, ask.set)
    if ask.mishaps:
        case = case.with_mishaps(ask.mishaps)
    with TemporaryDirectory(prefix="thermsim-verify-") as folder:
        if ask.command == "run":
            from thermsim.studies.run import run

            result = run(case, folder, engine=ask.engine)
            return Answer(result.summary, result)
        return Answer(COMMANDS[ask.command](case, Path(folder)))


def _check(case: Case, folder: Path) -> Facts:
    from thermsim.studies.byhand import examine

    return examine(case)


def _loop(case: Case, folder: Path) -> Facts:
    from thermsim.studies.loop.study import loop_study

    return loop_study(case, folder)


def _pipes(case: Case, folder: Path) -> Facts:
    from thermsim.studies.pipes.study import pipes_study

    return pipes_study(case, folder)


def _chill(case: Case, folder: Path) -> Facts:
    from thermsim.studies.chill.study import chill

    return chill(case, folder)


def _leak(case: Case, folder: Path) -> Facts:
    from thermsim.bench.leak.study import leak

    return leak(case, folder)


def _bench(case: Case, folder: Path) -> Facts:
    from thermsim.bench.paired.study import bench

    return bench(case, folder, model=False)  # the readings are what is checked


def _fit(case: Case, folder: Path) -> Facts:
    from thermsim.bench.fit.study import fit

    return fit(case, folder)


COMMANDS: dict[str, Callable[[Case, Path], Facts]] = {
    "check": _check, "loop": _loop, "pipes": _pipes, "chill": _chill, "leak": _leak, "bench": _bench, "fit": _fit,
}  # fmt: skip


def _message(error: Exception) -> str:
    """An error as a row tells it; one that is no message of ours goes with its kind."""
    return str(error) if hasattr(error, "exit_status") else f"{type(error).__name__}: {error}"

"""A hostile input of each kind, put where a user would have it, and the calls a user would make of it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path
from random import Random

import numpy as np

from tests.hostile import cases, logs, results
from tests.hostile.asks import asked, is_short
from tests.hostile.calls import RUN_S, STUDY_S, WORK_S, Outcome, call
from tests.hostile.kept import StudyFolder
from thermsim.case import Case, load_case
from thermsim.model.grid import make_grid
from thermsim.model.program import longest_step, stops_in
from thermsim.model.size import refuse_absurd
from thermsim.report import figures
from thermsim.store.result import ResultError, read_result

SMALL_CELLS = 4000  # on the grid and sheets, up to which a case is built and solved
FEW_STOPS = 60
LONGEST = {"run": RUN_S, "bench": WORK_S, "report": RUN_S, "loop": RUN_S}  # processor seconds


class Inputs:
    """Folders for inputs: `case` holds them, `out` is written to, `here` is where the calls are made from."""

    def __init__(self, folder: Path) -> None:
        self.case, self.out, self.here = (folder / name for name in ("case", "out", "here"))
        for one in (self.case, self.out, self.here):
            one.mkdir(parents=True)
        os.mkfifo(self.case / "fifo")
        self.secret = results.canary(folder / "secret.h5")
        self._sound: Path | None = None
        self._studies: StudyFolder | None = None

    @property
    def sound(self) -> Path:
        """A whole small result."""
        if self._sound is None:
            self._sound = results.sound_result(self.case.parent / "sound")
        return self._sound

    @property
    def studies(self) -> StudyFolder:
        """A case with its studies stored."""
        if self._studies is None:
            self._studies = StudyFolder(self.case.parent / "sound", self.out)
        return self._studies

    def warm(self, kind: str) -> None:
        """Import what the calls need, so that the first is no slower than the others."""
        self.called(kind, Random(0))

    def called(self, kind: str, random: Random) -> Outcome:
        """Make an input and call it; the first finding of its calls, or else the last outcome."""
        shutil.rmtree(self.out)
        self.out.mkdir()
        before, kept = self._standing(), Path.cwd()
        os.chdir(self.here)
        try:
            outcome = {"case": self._case, "log": self._log, "result": self._result, "kept": self._kept}[kind](random)
        finally:
            os.chdir(kept)
        appeared = sorted(self._standing() - before)
        if appeared and outcome.fault is None:
            return Outcome(outcome.ended, f"wrote outside: {appeared[0]}", outcome.told)
        return outcome

    def _standing(self) -> set[str]:
        inputs = {"case.toml", "log.csv", "before.csv", "after.csv", "leak.csv", "result.h5", "sound"}
        root = self.case.parent
        found = {str(path.relative_to(root)) for path in root.rglob("*") if self.out not in path.parents}
        return {one for one in found if not inputs & set(Path(one).parts)}

    def _case(self, random: Random) -> Outcome:
        path = self.case / "case.toml"
        data, changes = cases.hostile_case(random)
        path.write_bytes(data)
        (self.case / "log.csv").write_text(logs.text_of(logs.sound_log(Random(0))))
        case = _read(path, changes)
        if case is not None and not _is_small(case):
            return Outcome("large, not run")
        chosen = "-p" in changes
        outcome = call(["check", str(path), *changes], self.out)
        if outcome.fault or outcome.ended != "done":
            return outcome
        command, *flags = asked(random, case, chosen)
        if chosen and "-p" not in flags:
            changes = [one for k, one in enumerate(changes) if one != "-p" and changes[k - 1 : k] != ["-p"]]
        outcome = call(
            [command, str(path), *changes, *flags, "-o", str(self.out)], self.out, LONGEST.get(command, STUDY_S)
        )
        if command != "compare" or outcome.fault or outcome.ended != "done" or random.random() < 0.4:
            return outcome
        shown = call(["report", str(path), "--stored", "-o", str(self.out)], self.out, RUN_S)
        return shown if shown.fault else outcome

    def _kept(self, random: Random) -> Outcome:
        studies = self.studies
        shutil.rmtree(self.out)
        self.out.mkdir()
        return studies.damaged(random, self.secret)

    def _log(self, random: Random) -> Outcome:
        command, *flags = random.choice(logs.COMMANDS)
        (self.case / "case.toml").write_text(logs.CASE)
        (self.case / "before.csv").write_text(logs.text_of(logs.sound_log(Random(0), start=-3.0)))
        (self.case / "after.csv").write_text(logs.text_of(logs.sound_log(Random(1))))
        (self.case / "leak.csv").write_text(logs.text_of(logs.sound_log(Random(2), leak=True)))
        (self.case / logs.READ[command]).write_bytes(logs.hostile_log(random, command == "leak"))
        flags.append("--no-figures" if random.random() < 0.9 else "--figures")
        return call([command, str(self.case / "case.toml"), "-o", str(self.out), *flags], self.out)

    def _result(self, random: Random) -> Outcome:
        path = self.out / "result.h5"
        drawn = nullcontext() if random.random() < 0.1 else _undrawn()
        results.hostile_result(random, self.sound, path, self.secret)
        with suppress(Exception):
            if any(np.any(curve == results.CANARY) for curve in _all_numbers(path)):
                return Outcome("read", "read another file through a link")
        with drawn:
            work = RUN_S if isinstance(drawn, nullcontext) else WORK_S
            if random.random() < 0.85:
                return call(["plot", str(path), "-o", str(self.out), "--format", "png", "--json"], self.out, work)
            other = self.out / "other"
            other.mkdir()
            shutil.copy(self.sound, other / "result.h5")
            return call(["plot", str(path), str(other), "-o", str(self.out), "--format", "svg"], self.out, work)


@contextmanager
def _undrawn() -> Iterator[None]:
    """Figures are made and laid out by name, but their pixels, which take most of the time, are not."""
    kept = figures.image
    figures.image = lambda *_, **__: b""
    try:
        yield
    finally:
        figures.image = kept


def _all_numbers(path: Path) -> list[np.ndarray]:
    try:
        result = read_result(path)
    except ResultError:
        return []
    series = [one.values for group in result.curves.values() for one in group.values()]
    return [*series, *(field.temperature for field in result.fields.values())]


def _read(path: Path, changes: list[str]) -> Case | None:
    option = changes[changes.index("-p") + 1] if "-p" in changes else None
    with suppress(Exception):
        return load_case(path, None if option == "base" else option, changes[1::2] if "-p" not in changes else ())
    return None


def _is_small(case: Case) -> bool:
    """Whether what the case asks for is done in a second or so; what cannot be told is."""
    with suppress(Exception):
        grid = make_grid(case.spec)
        refuse_absurd(case.spec, grid)
        sheets = len(case.spec.sheet) + len(case.spec.plate)
        run = case.spec.run
        stops = sum(
            stops_in(duty, run.duration) + run.duration / longest_step(duty) for duty in case.spec.duty.values()
        )
        cells = grid.x.size * grid.y.size * max(sheets, 1)
        return cells <= SMALL_CELLS and stops <= FEW_STOPS and run.frames <= 1000 and is_short(case)
    return True

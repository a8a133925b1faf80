"""One call of the command line in this process, as `thermsim …` would do it, and what became of it.

Allowed: done (0), a must-have not met (1), one clear message (2), the solver gave up (3). All else is a finding.
"""

from __future__ import annotations

import io
import os
import signal
import sys
import tempfile
import traceback
import unicodedata
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

import matplotlib.backends.backend_agg  # noqa: F401  # makes a folder of its own when it is first imported

from thermsim.cli import main

WORK_S = 5.0  # processor seconds a call may take; the wall clock of a shared machine tells nothing
RUN_S = 40.0  # that a run or a drawing may take, which is work that the case asks for
STUDY_S = 60.0  # that a study may take, which is several runs
WAIT_S = 60.0  # seconds it may stand still beyond that, as one that reads a pipe nobody writes to
LONGEST_MESSAGE = 20_000  # characters on standard error
ALLOWED = {0: "done", 1: "must-have not met", 2: "refused", 3: "gave up"}
WRITES = {"os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "os.truncate", "shutil.rmtree"}


class Hung(BaseException):
    """No `Exception`, so that nothing on the way takes it for its own."""


@dataclass(frozen=True)
class Outcome:
    """How a call ended. `fault` names a finding and where it is; None where all is well."""

    ended: str
    fault: str | None = None
    told: str = ""  # what stood on standard error, or a traceback
    said: str = ""  # what stood on standard output


class _Watch:
    """Whether this process writes outside the folders it may write to, seen by Python's own audit events."""

    def __init__(self) -> None:
        self.allowed: tuple[str, ...] | None = None
        self.outside: list[str] = []
        sys.addaudithook(self._see)

    def _see(self, event: str, arguments: tuple[Any, ...]) -> None:
        if self.allowed is None:
            return
        if event == "open":
            path, mode, flags = arguments
            writes = (mode is not None and set("wax+") & set(mode)) or (flags or 0) & (os.O_WRONLY | os.O_RDWR)
            touched = [path] if writes else []
        else:
            touched = list(arguments[:2]) if event in WRITES else []
            if event in ("os.remove", "os.rmdir") and arguments[1] >= 0:  # a name in a folder that is open
                touched = [os.path.join(os.readlink(f"/proc/self/fd/{arguments[1]}"), os.fsdecode(arguments[0]))]
        for one in touched:
            if isinstance(one, str | bytes | os.PathLike):
                real = _place_of(os.fsdecode(one), follows=event in ("open", "os.truncate"))
                if not real.startswith((*self.allowed, "/dev/null", "/proc/self")) and "__pycache__" not in real:
                    self.outside.append(real)


def _place_of(path: str, follows: bool) -> str:
    """Where a path leads; what replaces or removes a link does not follow it."""
    above, name = os.path.split(path)
    return os.path.realpath(path) if follows or not name else os.path.join(os.path.realpath(above), name)


_watch: list[_Watch] = []


@contextmanager
def watched(*allowed: Path) -> Iterator[list[str]]:
    """Paths outside these folders that were written to within the block."""
    if not _watch:
        _watch.append(_Watch())
    watch = _watch[0]
    watch.allowed, watch.outside = tuple(os.path.realpath(one) for one in allowed), []
    try:
        yield watch.outside
    finally:
        watch.allowed = None


@contextmanager
def alarmed(work: float = WORK_S, wait: float = WAIT_S) -> Iterator[None]:
    """Raises `Hung` in the block when it takes too long."""

    def ring(number: int, frame: FrameType | None) -> None:
        raise Hung(_place(traceback.extract_stack(frame)))

    before = [signal.signal(one, ring) for one in (signal.SIGPROF, signal.SIGALRM)]
    signal.setitimer(signal.ITIMER_PROF, work)
    signal.setitimer(signal.ITIMER_REAL, wait)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
        for one, handler in zip((signal.SIGPROF, signal.SIGALRM), before, strict=True):
            signal.signal(one, handler)


def call(arguments: Sequence[str], writable: Path, work: float = WORK_S) -> Outcome:
    """Call `thermsim` with these arguments; only the folder `writable` may be written to."""
    out, told = io.StringIO(), io.StringIO()
    kept = sys.argv, tempfile.tempdir
    sys.argv, tempfile.tempdir = ["thermsim", *arguments], str(writable)  # studies settle in folders for the moment
    status, handlers = 0, {one: signal.getsignal(one) for one in (signal.SIGINT, signal.SIGTERM)}
    try:
        with (
            watched(writable) as outside, alarmed(work, work + WAIT_S), redirect_stdout(out), redirect_stderr(told),
            warnings.catch_warnings(),
        ):  # fmt: skip
            warnings.simplefilter("always")
            main()
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 99
    except Hung as hung:
        return Outcome("hung", f"hung: {arguments[0]} at {hung}", told.getvalue())
    except BaseException as error:
        if isinstance(error, KeyboardInterrupt):
            raise
        place = _place(traceback.extract_tb(error.__traceback__))
        return Outcome("traceback", f"{type(error).__name__} at {place}", traceback.format_exc())
    finally:
        sys.argv, tempfile.tempdir = kept
        for one, handler in handlers.items():
            signal.signal(one, handler)
    ended = ALLOWED.get(status, f"status {status}")
    return Outcome(ended, _fault(status, out, told, outside), told.getvalue(), out.getvalue())


def _fault(status: int, out: io.StringIO, told: io.StringIO, outside: list[str]) -> str | None:
    text, message = out.getvalue(), told.getvalue()
    if outside:
        return f"wrote outside: {outside[0]}"
    if status not in ALLOWED:
        return f"status {status}"
    if "Traceback" in message:
        return "a traceback in the message"
    if status >= 2 and not message.strip():
        return f"status {status} without a message"
    if status >= 2 and len(message) > LONGEST_MESSAGE:
        return f"a message of {len(message):,} characters"
    if "Warning: " in message:
        return "a warning of Python's: " + message.split("Warning: ")[0].rsplit("/", 1)[-1]
    odd = unprintable(text + message)
    return f"control characters on the terminal: {odd}" if odd else None


def unprintable(text: str) -> list[str]:
    """Characters of a text that a terminal or a reader's eye would obey rather than show."""
    found = {one for one in text if unicodedata.category(one) in ("Cc", "Cs", "Zl", "Zp") and one not in "\n\t"}
    turning = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
    return sorted(f"U+{ord(one):04X}" for one in found | (set(text) & turning))


def _place(frames: traceback.StackSummary) -> str:
    """The innermost frame of the project, and the innermost of all."""
    ours = [frame for frame in frames if "/thermsim/" in frame.filename]
    told = [ours[-1]] if ours else []
    told += [frames[-1]] if not told or frames[-1] is not told[0] else []
    return " < ".join(f"{Path(one.filename).name}:{one.lineno} {one.name}" for one in reversed(told))

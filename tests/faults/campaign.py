"""Kill calls at random moments, and see that nothing finished is lost and the next call's result is the same.

`python -m tests.faults.campaign --count 100` from the root of the repository: run (both engines), compare, sweep and
place in turn, each ended at a random moment of its uninterrupted duration by SIGKILL (or `--signal TERM`, `INT`), of
the whole process group or of the parent alone. Checked after each: whatever goes by its final name is whole; the
workers are gone; the same call again ends well, leaves no unfinished file, and tells the same.
"""

from __future__ import annotations

import argparse
import random
import signal
import time
from dataclasses import dataclass
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryDirectory

from tests.faults.calls import BOX, Call, check_whole, facts_of, largest_difference

COMMANDS = {
    "run": ("run", "--set", "run.cell=4 mm"),
    "full": ("run", "--engine", "full", "--no-figures", "--set", "run.cell=4 mm", "--set", "run.frames=41"),
    "compare": ("compare", "--draws", "8", "--no-figures"),
    "sweep": ("sweep", "--samples", "64", "--no-figures"),
    "place": ("place", "--no-figures"),
}
SAME = {"full": 0.05}  # K: a run taken up by the full engine makes its factors anew and agrees as its steps do
STATUS = {"KILL": -signal.SIGKILL, "TERM": 143, "INT": 130}
SOON = 20.0  # s, on a busy machine, in which a call that is asked to stop ends, and workers follow


@dataclass(frozen=True)
class Reference:
    """A command that nothing interrupts."""

    name: str
    folder: Path
    seconds: float

    @classmethod
    def of(cls, name: str, folder: Path) -> Reference:
        """Run it."""
        began = time.monotonic()
        finish(name, folder)
        return cls(name, folder, time.monotonic() - began)


def begin(name: str, folder: Path) -> Call:
    """Start a command into a folder."""
    command, *flags = COMMANDS[name]
    return Call((command, str(BOX), "-o", str(folder), *flags))


def finish(name: str, folder: Path) -> None:
    """A command to its end; 1 tells of a must-have that is not met."""
    status, _, errors = begin(name, folder).ended()
    assert status in (0, 1), errors


def trial(reference: Reference, folder: Path, chance: random.Random, sent: str) -> str:
    """Interrupt the command once, or twice, in `folder`, then let it end; what was seen. Raises `AssertionError`."""
    name, moments = reference.name, []
    for _ in range(chance.choice((1, 1, 2))):
        moment, group = chance.uniform(0.1, reference.seconds), chance.random() < 0.5
        call = begin(name, folder)
        time.sleep(moment)
        if sent != "KILL":
            call.listens()  # before that the interpreter itself is only starting
        call.send(getattr(signal, f"SIG{sent}"), group)
        status, _, errors = call.ended(SOON)
        call.alone_within(SOON)
        check_whole(folder)
        if status not in (0, 1, STATUS[sent]) or "Traceback" in errors:
            raise AssertionError(f"ended with {status}: {errors}")
        moments.append(f"{moment:.2f} s ({'all' if group else 'parent'}{', too late' if status in (0, 1) else ''})")
    there = sum(1 for _ in folder.rglob("result.h5*"))
    finish(name, folder)
    check_whole(folder)
    left = [path.name for path in folder.rglob("*") if path.suffix in (".part", ".lock")]
    assert not left, f"left behind: {left}"
    off, where = largest_difference(facts_of(reference.folder), facts_of(folder))
    assert off <= SAME.get(name, 0.0), f"{where} differs by {off:g}"
    return f"{name:8} at {', '.join(moments)}; {there} results begun; differs by {off:.2g}"


def campaign(count: int, commands: tuple[str, ...], seed: int, sent: str, say: bool = True) -> int:
    """So many trials, the commands in turn; how many failed."""
    chance, failed = random.Random(seed), 0
    with TemporaryDirectory(prefix="thermsim-faults-") as place:
        references = [Reference.of(name, Path(place) / "whole" / name) for name in commands]
        for k in range(count):
            reference, folder = references[k % len(references)], Path(place) / f"trial {k}"
            try:
                told = trial(reference, folder, chance, sent)
            except AssertionError as error:
                failed += 1
                told = f"FAILED {reference.name}: {error}"
            if say:
                print(f"{k + 1:4}: {told}", flush=True)
            rmtree(folder, ignore_errors=True)
    return failed


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--command", action="append", choices=COMMANDS, help="only this; may be repeated")
    parser.add_argument("--signal", dest="sent", choices=STATUS, default="KILL")
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    failed = campaign(given.count, tuple(given.command or COMMANDS), given.seed, given.sent)
    print(f"{given.count} trials with SIG{given.sent}, {failed} failed")
    raise SystemExit(1 if failed else 0)


if __name__ == "__main__":
    main()

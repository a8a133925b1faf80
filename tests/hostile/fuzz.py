"""Hostile inputs by the thousand: `python -m tests.hostile.fuzz --count 20000`, from the root of the repository.

Each input is a number: `--kind case --seed 1 --only 4711` makes and calls that one again and shows what it said.
Inputs are called in processes with 2 GB of address space; one that dies is a finding, and a new one goes on.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import select
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

KINDS = ("case", "log", "result", "kept")
MEMORY = 2_000_000_000
SILENCE_S = 600.0  # after which a process is taken to hang where no alarm reaches it
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1", "MPLBACKEND": "Agg"}


def worker(kind: str, seed: int, numbers: range) -> None:
    """Call inputs and say of each, on standard output: its number before, its outcome after."""
    from tests.hostile.inputs import Inputs

    with tempfile.TemporaryDirectory(prefix="thermsim-hostile-") as folder:
        inputs = Inputs(Path(folder))
        inputs.warm(kind)
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, resource.getrlimit(resource.RLIMIT_AS)[1]))
        for number in numbers:
            print(json.dumps({"begins": number}), flush=True)
            outcome = inputs.called(kind, Random(f"{kind} {seed} {number}"))
            told = {"number": number, "ended": outcome.ended, "fault": outcome.fault, "told": outcome.told[-3000:]}
            print(json.dumps(told), flush=True)


def outcomes(kind: str, seed: int, numbers: range) -> Iterator[dict[str, Any]]:
    """Outcomes of inputs; where a process dies or falls silent that is the outcome, and another takes over."""
    at = numbers.start
    while at < numbers.stop:
        command = [sys.executable, "-m", "tests.hostile.fuzz", "--kind", kind, "--seed", str(seed)]
        process = subprocess.Popen(
            [*command, "--worker", f"{at}:{numbers.stop}"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            env=os.environ | ONE_THREAD,
        )  # fmt: skip
        begun, silent = at, False
        assert process.stdout is not None
        while True:
            ready, _, _ = select.select([process.stdout], [], [], SILENCE_S)
            line = process.stdout.readline() if ready else b""
            silent = not ready
            if not line:
                break
            told = json.loads(line)
            begun = told.get("begins", begun)
            if "ended" in told:
                at = told["number"] + 1
                yield told
        process.kill()
        status = process.wait()
        if at < numbers.stop:
            fault = "hung beyond the alarm" if silent else f"the process died ({status})"
            yield {"number": begun, "ended": "died", "fault": fault, "told": ""}
            at = begun + 1


def campaign(kinds: list[str], count: int, seed: int, start: int) -> list[dict[str, Any]]:
    """Share the inputs out among the kinds; prints counts and seconds; returns the findings."""
    findings: list[dict[str, Any]] = []
    for kind in kinds:
        begun, endings, faults = time.monotonic(), Counter[str](), Counter[str]()
        for done, told in enumerate(outcomes(kind, seed, range(start, start + count // len(kinds))), start=1):
            endings[told["ended"]] += 1
            if done % 500 == 0:
                print(f"  {kind}: {done} inputs, {time.monotonic() - begun:.0f} s", flush=True)
            if told["fault"]:
                faults[told["fault"]] += 1
                if faults[told["fault"]] == 1:
                    print(f"  {kind} {told['number']}: {told['fault']}", flush=True)
                findings.append(told | {"kind": kind})
        ended = ", ".join(f"{number} {name}" for name, number in endings.most_common())
        print(f"{kind}: {sum(endings.values())} inputs in {time.monotonic() - begun:.0f} s: {ended}", flush=True)
        for fault, number in faults.most_common():
            print(f"  {number} x {fault}", flush=True)
    return findings


def main() -> int:
    """The script; 1 where anything was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=300, help="over all kinds")
    asked.add_argument("--kind", choices=KINDS, action="append", dest="kinds")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--start", type=int, default=0)
    asked.add_argument("--only", type=int, help="make and call this input of one kind, and show what became of it")
    asked.add_argument("--keep", type=Path, help="with --only: copy the input there")
    asked.add_argument("--worker", help=argparse.SUPPRESS)
    told = asked.parse_args()
    kinds = told.kinds or list(KINDS)
    if told.worker:
        first, behind = map(int, told.worker.split(":"))
        worker(kinds[0], told.seed, range(first, behind))
        return 0
    if told.only is None:
        return 1 if campaign(kinds, told.count, told.seed, told.start) else 0
    from tests.hostile.inputs import Inputs

    with tempfile.TemporaryDirectory(prefix="thermsim-hostile-") as folder:
        inputs = Inputs(Path(folder))
        outcome = inputs.called(kinds[0], Random(f"{kinds[0]} {told.seed} {told.only}"))
        if told.keep:
            shutil.copytree(inputs.case, told.keep, dirs_exist_ok=True, ignore=shutil.ignore_patterns("fifo"))
    print(outcome.told[-6000:], outcome.ended, outcome.fault, sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

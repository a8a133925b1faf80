"""Calls of `thermsim` in a process group of their own, and what they leave behind."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from thermsim.store.result import read_result

BOX = Path(__file__).with_name("box.toml")
MAIN = "import sys; from thermsim.cli import main; sys.argv[0] = 'thermsim'; main()"
ENDS = {".png": b"IEND\xaeB`\x82", ".html": b"</html>"}
# what a clock told, and how much work was left for the last call; all else must be the same
CLOCKS = {"timing", "seconds", "exact_s", "exact_each_s", "screening_s", "speed_up", "processor_s", "stamp"}
WORK = {"build_s", "steady_s", "transient_s", "steps", "steps_rejected", "factorisations", "solves"}


@dataclass
class Call:
    """One call that is under way."""

    arguments: tuple[str, ...]
    process: subprocess.Popen[str] = field(init=False)

    def __post_init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", MAIN, *self.arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            start_new_session=True, preexec_fn=hear_ctrl_c,
            env=os.environ | {"OMP_NUM_THREADS": "1", "MPLBACKEND": "Agg"},
        )  # fmt: skip

    def send(self, number: int, whole_group: bool) -> None:
        """Send a signal to the process, or to its workers too; nothing if it has ended."""
        send = os.killpg if whole_group else os.kill
        if self.process.poll() is None:
            send(self.process.pid, number)

    def listens(self) -> None:
        """Wait until the call takes SIGTERM itself, or has ended."""
        while self.process.poll() is None:
            caught = Path(f"/proc/{self.process.pid}/status").read_text().partition("SigCgt:")[2].split()[0]
            if int(caught, 16) >> (signal.SIGTERM - 1) & 1:
                return
            time.sleep(0.01)

    def ended(self, within: float = 120.0) -> tuple[int, str, str]:
        """Wait for the end: status, output, errors. What takes longer than `within` (s) is killed, and fails."""
        try:
            out, err = self.process.communicate(timeout=within)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            raise AssertionError(f"{self.arguments} did not end within {within:g} s") from None
        return self.process.returncode, out, err

    def members(self) -> list[int]:
        """Processes of the group that still run."""
        return [int(entry.name) for entry in Path("/proc").iterdir() if entry.name.isdigit() and self._runs(entry)]

    def _runs(self, entry: Path) -> bool:
        try:
            state, _, group = (entry / "stat").read_text().rsplit(")", 1)[1].split()[:3]
        except OSError:
            return False
        return state != "Z" and int(group) == self.process.pid

    def alone_within(self, seconds: float) -> None:
        """Wait until nothing of the group runs."""
        until = time.monotonic() + seconds
        while left := self.members():
            assert time.monotonic() < until, f"orphans {left} of {self.arguments} after {seconds:g} s"
            time.sleep(0.05)


def hear_ctrl_c() -> None:
    """Undo that a shell has its background jobs ignore SIGINT."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def check_whole(folder: Path) -> None:
    """Every file that goes by its final name is whole: results, JSON, figures, pages; kept lines may be torn."""
    for path in folder.rglob("*"):
        if path.name.startswith(".") or path.suffix == ".part" or path.is_dir():
            continue
        if path.name == "result.h5":
            assert read_result(path).complete, f"{path} is not complete"
        elif path.suffix == ".json":
            json.loads(path.read_text(encoding="utf-8"))
        elif path.suffix == ".svg":
            ElementTree.parse(path)
        elif path.suffix in ENDS:
            assert path.read_bytes().rstrip().endswith(ENDS[path.suffix]), f"{path} is cut short"


def facts_of(folder: Path) -> dict[str, Any]:
    """All that a folder tells, by file and place in it: without what clocks told."""
    found: dict[str, Any] = {}
    for path in sorted(folder.rglob("*.json")):
        found[f"{path.relative_to(folder)}"] = without_clocks(json.loads(path.read_text(encoding="utf-8")))
    for path in sorted(folder.rglob("result.h5")):
        result = read_result(path)
        name = f"{path.relative_to(folder)}"
        found[f"{name} case"] = result.case.fingerprint()
        for address, one in result.fields.items():
            found[f"{name} {address}"] = [one.time.tolist(), np.nan_to_num(one.temperature, nan=-999.0).tolist()]
        for group, curves in result.curves.items():
            for key, series in curves.items():
                found[f"{name} {group} {key}"] = [series.time.tolist(), series.values.tolist()]
    return found


def without_clocks(facts: Any) -> Any:
    """Facts without what a clock told."""
    if isinstance(facts, dict):
        return {key: without_clocks(value) for key, value in facts.items() if key not in CLOCKS | WORK}
    return [without_clocks(value) for value in facts] if isinstance(facts, list) else facts


def largest_difference(one: Any, other: Any, where: str = "") -> tuple[float, str]:
    """Largest difference of any two numbers, and where; raises `AssertionError` where anything else differs."""
    if isinstance(one, dict) and isinstance(other, dict):
        assert set(one) == set(other), f"{where}: {set(one) ^ set(other)}"
        return max((largest_difference(one[key], other[key], f"{where}/{key}") for key in one), default=(0.0, where))
    if isinstance(one, list) and isinstance(other, list):
        assert len(one) == len(other), f"{where}: {len(one)} and {len(other)} long"
        pairs = enumerate(zip(one, other, strict=True))
        return max((largest_difference(a, b, f"{where}/{k}") for k, (a, b) in pairs), default=(0.0, where))
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other), where
    assert one == other, f"{where}: {one!r} and {other!r}"
    return 0.0, where

"""Makes `tests.faults` importable under pytest's importlib mode; a quick case, and a disk of a few kilobytes."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[2]))

from thermsim.case import Case
from thermsim.store import claim


@pytest.fixture(autouse=True, scope="session")
def heeded_ctrl_c() -> Iterator[None]:
    """Processes hand on that SIGINT is ignored, and a shell's background jobs ignore it; the calls here must not."""
    before = signal.getsignal(signal.SIGINT)
    if before is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def case() -> Case:
    """A heated sheet with a mishap and an option, a tenth of a second to run; no physics is judged with it."""
    return Case.from_text(
        """
        [case]
        title = "heated sheet"
        [room]
        temperature = "20 degC"
        [run]
        duration = "10 min"
        cell = "10 mm"
        frames = 9
        [sheet.board]
        corner = "0, 0 mm"
        size = "60 x 40 mm"
        thickness = "2 mm"
        conductivity = "20 W/mK"
        heat_capacity = "20 J/K"
        [part.chip]
        on = "sheet.board"
        centre = "25, 25 mm"
        size = "10 x 10 mm"
        watts = "2 W"
        limit = "90 degC"
        to_board = "1 K/W"
        heat_capacity = "1 J/K"
        [film.top]
        on = "sheet.board"
        to = "room"
        law = "fixed"
        h = "10 W/m2K"
        [option.hotter]
        set = { "part.chip.watts" = "3 W" }
        """
    )


@pytest.fixture
def impatient(monkeypatch):
    """Nobody waits for another writer."""
    monkeypatch.setattr(claim, "PATIENCE", 0.1)


@pytest.fixture
def small_disk(tmp_path):
    """A function that mounts, or resizes, a disk of so many kB; its folder. Skips where that needs rights."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = []

    def disk(size: int, *more: str) -> Path:
        options = ",".join([*(["remount"] if mounted else []), f"size={size}k", *more])
        told = subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", place], capture_output=True, text=True)
        if told.returncode:
            pytest.skip(f"mounting a small disk takes root: {told.stderr.strip()}")
        mounted.append(place)
        return place

    if os.name != "posix":
        pytest.skip("no tmpfs here")
    yield disk
    if mounted:
        subprocess.run(["umount", "-l", place], check=True)

"""Sizes that no machine has are refused by an estimate, before anything of that size is made. Limits are our own."""

from __future__ import annotations

import resource
import shutil
import time
from collections import namedtuple
from pathlib import Path
from random import Random

import numpy as np
import pytest

from tests.hostile import logs
from tests.hostile.calls import call
from tests.hostile.small_case import SMALL
from thermsim.bench.logs import rows
from thermsim.bench.logs.read import read_log
from thermsim.case import Case, CaseError, load_case
from thermsim.case.benching import Layout
from thermsim.model import available, memory, size
from thermsim.model.build import build
from thermsim.model.grid import make_grid
from thermsim.solve.factor import Factor, TooLarge
from thermsim.solve.reduced import poles
from thermsim.solve.steady import SteadySolver
from thermsim.studies.run import run

GB = 1e9
CASE = Case.from_text(SMALL)
LOGGED = {"A [°C]": "part.a", "B [°C]": "part.b"}


def refused(changes: dict, monkeypatch: pytest.MonkeyPatch, there: float = 4 * GB) -> str:
    """What is said of the case with changes, where so much memory is left; nothing large may be made meanwhile."""
    for module in (memory, size):
        monkeypatch.setattr(module, "available_bytes", lambda: there)
    monkeypatch.setattr("thermsim.model.build.add_sheet", None)  # the first that would be large
    begun = time.process_time()
    with pytest.raises(CaseError) as caught:
        build(CASE.with_changes(changes))
    assert time.process_time() - begun < 2.0
    return str(caught.value)


def test_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "gives 1.2e+10 cells across; use a larger one" in refused({"run.cell": "1e-8 mm"}, monkeypatch)
    assert "cells; use a larger one" in refused({"run.cell": "0.02 mm"}, monkeypatch)
    told = refused({"run.cell": "0.1 mm"}, monkeypatch)
    assert "unknowns need about" in told
    assert "is available; run.cell = 0." in told


def test_the_estimate_is_of_the_model_that_would_be_built() -> None:
    told = size.size_of(CASE.spec, make_grid(CASE.spec))
    model = build(CASE)
    assert told.cells == sum(sheet.node.size for sheet in model.site.sheets.values())
    assert told.unknowns == pytest.approx(model.node_count, rel=0.05)


def test_frames_in_memory_and_on_the_disk(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    told = refused({"run.frames": 100_000}, monkeypatch, 0.4 * GB)
    assert told.startswith("run.frames: 100,000 frames of ")
    assert "of memory, and 0.4 GB is available; " in told
    monkeypatch.undo()
    usage = namedtuple("usage", "free")
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage(1e6))
    with pytest.raises(CaseError, match=r"on the disk, and 1 MB is free at .*; 2,\d\d\d frames would fit"):
        run(CASE.with_changes({"run.frames": 50_000}), tmp_path / "not there yet")
    assert not (tmp_path / "not there yet").exists()


@pytest.mark.parametrize(
    "period", [{"duty.swing.sine.period": "1 ms"}, {"duty.day.repeat": "200 s", "run.duration": "1000 d"}]
)
def test_a_history_that_would_never_end(monkeypatch: pytest.MonkeyPatch, period: dict) -> None:
    told = refused(period, monkeypatch)
    assert "steps in run.duration" in told
    assert "1,000,000 are the most" in told


def test_a_run_of_more_than_a_hundred_years(monkeypatch: pytest.MonkeyPatch) -> None:
    """It would take its steps of four months each, a hundred million of them."""
    told = refused({"run.duration": "1e12 h"}, monkeypatch)
    assert told == "run.duration: must be at most 100 years; got 1.14e+08 years"
    monkeypatch.undo()
    still = CASE.with_changes({"run.duration": "99 d"})
    size.refuse_absurd(still.spec, make_grid(still.spec))


def test_a_case_of_too_many_things(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_text(SMALL + "".join(f"[probe.p{k}]\nx = 1\n" for k in range(3000)))
    with pytest.raises(CaseError, match=r"probe: has 3,001 keys; 2,000 are the most"):
        load_case(path)


def test_a_log_with_too_many_numbers_or_too_long_a_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(logs.text_of(logs.sound_log(Random(0))))
    assert read_log(path, Layout(columns=LOGGED)).time.size == 80
    monkeypatch.setattr(rows, "available_bytes", lambda: 5e3)
    with pytest.raises(CaseError, match=r"82 rows of 4 columns need 0\.01 MB of memory, and 0\.005 MB is available"):
        read_log(path, Layout(columns=LOGGED))
    monkeypatch.undo()
    path.write_text(logs.text_of(logs.sound_log(Random(0))) + "1" * 10_000_001 + "\n")
    with pytest.raises(CaseError, match=r"log\.csv:82: is a line of more than 10,000,000 characters"):
        read_log(path, Layout(columns=LOGGED))


def test_memory_of_control_groups_and_of_the_process(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The files' names and forms are those of the Linux kernel's cgroup v1 and v2 documentation."""
    monkeypatch.setattr(available, "MEMINFO", tmp_path / "none")
    monkeypatch.setattr(available, "MOUNT", tmp_path)
    told = tmp_path / "cgroup"
    monkeypatch.setattr(available, "CGROUP", told)
    told.write_text("0::/a/b\n")
    (tmp_path / "a" / "b").mkdir(parents=True)
    for folder, most in (("a", "3000000000\n"), ("a/b", "max\n")):
        (tmp_path / folder / "memory.max").write_text(most)
        (tmp_path / folder / "memory.current").write_text("2500000000\n")
        (tmp_path / folder / "memory.stat").write_text("anon 1\ninactive_file 1000000000\n")
    assert available.available_bytes() == 1.5e9
    told.write_text("4:memory:/c\n3:cpuset:/\n")
    (tmp_path / "memory" / "c").mkdir(parents=True)
    (tmp_path / "memory" / "c" / "memory.limit_in_bytes").write_text("2000000000\n")
    (tmp_path / "memory" / "c" / "memory.usage_in_bytes").write_text("500000000\n")
    assert available.available_bytes() == 1.5e9
    (tmp_path / "memory" / "c" / "memory.limit_in_bytes").write_text("9223372036854771712\n")
    assert available.available_bytes() > 4 * GB
    monkeypatch.setattr(resource, "getrlimit", lambda which: (3 * GB, 3 * GB))
    assert 0 < available.available_bytes() < 3 * GB


def test_factors_that_are_kept_give_way_to_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where memory is short the reduced engine lets go of the factors it kept, and gives up only without any."""
    model = build(CASE)
    now = SteadySolver(model).solve(0.0).conditions
    made = poles.Poles(model, now, model.capacity[: model.node_count])
    right = np.ones(model.node_count)
    made.solve(right, 0.0)
    real, asked = poles.Factor, []

    def short(matrix: object, layout: object) -> Factor:
        asked.append(len(made._factors))
        if made._factors:
            raise TooLarge
        return real(matrix, layout)

    monkeypatch.setattr(poles, "Factor", short)
    assert np.all(np.isfinite(made.solve(right, 0.0, since=1.0)))
    assert asked == [1, 0]
    monkeypatch.setattr(poles, "Factor", lambda *_: (_ for _ in ()).throw(TooLarge("none")))
    with pytest.raises(TooLarge):
        poles.Poles(model, now, model.capacity[: model.node_count]).solve(right, 0.0)


def test_memory_that_runs_out_is_told_in_one_message(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "case.toml"
    path.write_text(SMALL)

    def greedy(case: Case) -> list[str]:
        raise MemoryError

    monkeypatch.setattr("thermsim.commands.check.check_all_options", greedy)
    outcome = call(["check", str(path)], tmp_path / "out")
    assert (outcome.ended, outcome.fault) == ("gave up", None)
    assert outcome.told.startswith("memory ran out; a larger run.cell gives fewer unknowns")

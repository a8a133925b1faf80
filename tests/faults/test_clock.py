"""A clock that is set back, and files from another time: nothing rests on what a clock on the wall says."""

import itertools
import os
import time

import pytest

from tests.faults.calls import facts_of, largest_difference
from thermsim.studies import compare as comparing
from thermsim.studies.decide.study import compare_study
from thermsim.studies.stored import stored
from thermsim.studies.where import Where

DAY = 86_400.0
HERE = Where(processes=1)


@pytest.mark.parametrize("shift", [-20 * 365 * DAY, 20 * 365 * DAY])
def test_what_is_finished_is_known_by_its_content(case, tmp_path, monkeypatch, shift):
    compare_study(case, tmp_path, None, HERE)
    kept = (tmp_path / "compare.kept.jsonl").read_bytes()
    for path in tmp_path.rglob("*"):
        os.utime(path, (time.time() + shift,) * 2)

    def again(*arguments, **more):
        raise AssertionError("a finished option was run again")

    monkeypatch.setattr(comparing, "run", again)
    compare_study(case, tmp_path, None, HERE)
    assert (tmp_path / "compare.kept.jsonl").read_bytes() == kept
    assert set(stored(tmp_path, case)) == {"compare"}


def test_a_clock_that_runs_backwards_changes_nothing(case, tmp_path, monkeypatch):
    compare_study(case, tmp_path / "whole", None, HERE)
    backwards = itertools.count(time.time(), -3600)
    monkeypatch.setattr(time, "time", lambda: next(backwards))
    monkeypatch.setattr(time, "time_ns", lambda: int(1e9 * next(backwards)))
    compare_study(case, tmp_path / "out", ["base"], HERE)
    compare_study(case, tmp_path / "out", None, HERE)  # goes on, hours before it began
    assert largest_difference(facts_of(tmp_path / "whole"), facts_of(tmp_path / "out"))[0] == 0

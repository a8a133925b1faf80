"""What is finished stays until the next is whole."""

import json
import os

import pytest

from tests.faults.calls import facts_of, largest_difference
from thermsim.store.result import ResultError, read_result
from thermsim.studies.run import run


class Killed(Exception):
    """Stands for a kill."""


@pytest.mark.parametrize("engine", ["reduced", "full"])
def test_a_result_stays_until_the_next_is_whole(case, tmp_path, engine):
    run(case, tmp_path, engine=engine)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def kill(done, end):
        if done > end / 2:
            raise Killed

    with pytest.raises(Killed):
        run(case.with_option("hotter"), tmp_path, kill, engine)
    assert {name: (tmp_path / name).read_bytes() for name in before} == before
    assert {path.name for path in tmp_path.iterdir()} - set(before) == {"result.h5.part"}
    hotter = run(case.with_option("hotter"), tmp_path, engine=engine)
    assert hotter.complete
    assert hotter.option == "hotter"
    assert json.loads((tmp_path / "summary.json").read_text()) == hotter.summary


def test_before_it_is_whole_there_is_none(case, tmp_path):
    seen = []

    def look(done, end):
        seen.append((tmp_path / "result.h5").exists())
        cut = read_result(tmp_path) if (tmp_path / "result.h5.part").exists() and done > end / 2 else None
        seen.append(cut is not None and cut.complete)

    run(case, tmp_path, look)
    assert len(seen) > 4
    assert not any(seen)


def test_a_kill_between_the_two_files_is_mended_by_the_next_call(case, tmp_path, monkeypatch):
    run(case, tmp_path / "whole")
    replace = os.replace

    def kill(source, target):
        if str(target).endswith("result.h5"):
            raise Killed
        replace(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", kill)
        with pytest.raises(Killed):
            run(case, tmp_path / "out")
    assert (tmp_path / "out" / "summary.json").exists()
    with pytest.raises(ResultError, match="no result here"):
        read_result(tmp_path / "out" / "result.h5")
    run(case, tmp_path / "out")
    assert largest_difference(facts_of(tmp_path / "whole"), facts_of(tmp_path / "out"))[0] == 0

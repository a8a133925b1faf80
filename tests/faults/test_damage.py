"""Files that are not what their name says: never taken for whole, never a traceback, and what is not ours is left."""

import json

import h5py
import numpy as np
import pytest

from tests.faults.calls import facts_of, largest_difference
from thermsim.store.layout import ResultError
from thermsim.store.result import read_result
from thermsim.store.write import ResultWriter
from thermsim.studies.compare import is_finished
from thermsim.studies.run import run
from thermsim.studies.stored import store, stored


def cut_short(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def garbage(path):
    path.write_bytes(np.random.default_rng(1).bytes(5000))


def garbage_within(path):
    whole = bytearray(path.read_bytes())
    whole[600 : len(whole) // 2] = np.random.default_rng(1).bytes(len(whole) // 2 - 600)
    path.write_bytes(whole)


def zeros(path):
    path.write_bytes(bytes(path.stat().st_size))


def empty(path):
    path.write_bytes(b"")


def without_time(path):
    with h5py.File(path, "r+") as file:
        del file["parts/time"]


def no_case(path):
    with h5py.File(path, "r+") as file:
        file.attrs["case"] = "[1, 2"


def huge(path):
    """Tells of gigabytes that it does not hold; as many could well be had."""
    with h5py.File(path, "r+") as file:
        for data in file["parts"].values():
            data.resize(4 * 10**7, axis=0)


def newer(path):
    with h5py.File(path, "r+") as file:
        file.attrs["thermsim_schema"] = 99


def foreign(path):
    with h5py.File(path, "w") as file:
        file["measured"] = [1.0, 2.0]


DAMAGED = [cut_short, garbage, garbage_within, zeros, empty, without_time, no_case, huge]


@pytest.mark.parametrize("damage", DAMAGED)
def test_a_damaged_result_is_told_of_and_made_again(case, tmp_path, damage):
    run(case, tmp_path / "whole")
    run(case, tmp_path / "out")
    assert is_finished(case, tmp_path / "out")
    damage(tmp_path / "out" / "result.h5")
    with pytest.raises(ResultError, match=r"result\.h5: "):
        read_result(tmp_path / "out")
    assert not is_finished(case, tmp_path / "out")
    run(case, tmp_path / "out")
    assert largest_difference(facts_of(tmp_path / "whole"), facts_of(tmp_path / "out"))[0] == 0


@pytest.mark.parametrize(("damage", "words"), [(newer, "newer thermsim"), (foreign, "not a thermsim result")])
def test_what_a_newer_version_or_another_program_wrote_is_left(case, tmp_path, damage, words):
    run(case, tmp_path)
    damage(tmp_path / "result.h5")
    before = (tmp_path / "result.h5").read_bytes()
    with pytest.raises(ResultError, match=words):
        read_result(tmp_path)
    with pytest.raises(ResultError, match=f"{words}.*left as it is"):
        run(case, tmp_path)
    assert (tmp_path / "result.h5").read_bytes() == before


def test_a_folder_of_that_name_is_found_before_the_work(case, tmp_path):
    (tmp_path / "result.h5").mkdir()
    with pytest.raises(ResultError, match="is a folder"):
        run(case, tmp_path)


@pytest.fixture
def unfinished(case, tmp_path, monkeypatch):
    """A run that was cut after four frames; its unfinished file."""
    original = ResultWriter.checkpoint

    def checkpoint(self, standing, tally):
        original(self, standing, tally)
        if tally.frames == 4:
            raise InterruptedError

    with monkeypatch.context() as patch:
        patch.setattr(ResultWriter, "checkpoint", checkpoint)
        with pytest.raises(InterruptedError):
            run(case, tmp_path / "out", engine="full")
    return tmp_path / "out" / "result.h5.part"


def other_state(path):
    """A bit of the state that would be taken up, turned over."""
    with h5py.File(path, "r+") as file:
        for slot in file["checkpoint"].values():
            slot[0] = slot[0] + 5.0


def fewer_frames(path):
    with h5py.File(path, "r+") as file:
        file["sheets/board/temperature"].resize(1, axis=0)


def of_another_size(path):
    with h5py.File(path, "r+") as file:
        del file["checkpoint"]
        file["checkpoint/a"] = np.zeros(3)
        file["checkpoint/a"].attrs["number"] = 9


@pytest.mark.parametrize("damage", [*DAMAGED, newer, foreign, other_state, fewer_frames, of_another_size])
def test_a_damaged_beginning_is_begun_anew(case, tmp_path, unfinished, damage):
    run(case, tmp_path / "whole", engine="full")
    damage(unfinished)
    run(case, tmp_path / "out", engine="full")
    off, where = largest_difference(facts_of(tmp_path / "whole"), facts_of(tmp_path / "out"))
    assert off <= case.spec.run.tolerance / 2, (
        where
    )  # what no damage touched may be taken up: as closely as steps agree
    if damage in (other_state, fewer_frames, of_another_size):
        assert off == 0, where


@pytest.mark.parametrize("text", ["", "[1, 2]", "null", '{"stamp": 3}', "[" * 100_000, '{"study": "chill"', "\x00\xff"])
def test_damaged_facts_of_a_study_are_passed_over(case, tmp_path, text):
    path = store(tmp_path, case, {"study": "chill", "answer": []})
    assert set(stored(tmp_path, case)) == {"chill"}
    path.write_text(text, encoding="latin-1")
    assert stored(tmp_path, case) == {}
    store(tmp_path, case, {"study": "chill", "answer": []})
    assert json.loads(path.read_text())["study"] == "chill"

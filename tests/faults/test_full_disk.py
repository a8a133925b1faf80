"""A disk that fills up: one message, what is finished stays, and the next call goes on once there is room."""

import errno
from contextlib import contextmanager
from resource import RLIMIT_FSIZE, getrlimit, setrlimit

import pytest

from tests.faults.calls import BOX, Call, check_whole, facts_of, largest_difference
from thermsim.case import load_case
from thermsim.cli import of_system
from thermsim.store.result import read_result
from thermsim.store.whole import write_whole
from thermsim.studies.kept import Kept
from thermsim.studies.run import run


@contextmanager
def no_file_beyond(size):
    """Have the system refuse files of more bytes, as a full disk does: with another number, needing no rights."""
    soft, hard = getrlimit(RLIMIT_FSIZE)
    setrlimit(RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        setrlimit(RLIMIT_FSIZE, (soft, hard))


@pytest.mark.slow
def test_a_run_ends_with_a_message_and_goes_on(tmp_path, small_disk):
    command = ("run", str(BOX), "--engine", "full", "--no-figures", "--set", "run.frames=41")
    run(load_case(BOX, None, {"run.frames": 41}), tmp_path / "whole", engine="full")
    folder = small_disk(900) / "out"
    status, _, errors = Call((*command, "-o", str(folder))).ended()
    assert status == 3, errors  # and not killed by a fault inside the HDF5 library
    assert errors.count("\n") == 1
    assert errors.startswith(f"{folder}")
    assert "No space left on device; what was finished is kept" in errors
    assert read_result(folder).fields["sheet.board"].time.size >= 1  # reads as far as it goes
    check_whole(folder)
    small_disk(8000)
    assert Call((*command, "-o", str(folder))).ended()[0] == 1
    off, where = largest_difference(facts_of(tmp_path / "whole"), facts_of(folder))
    assert off < 0.01, where  # K, as closely as the steps of the full engine agree
    assert not [path.name for path in folder.iterdir() if path.suffix in (".part", ".lock")]


@pytest.mark.parametrize("kilobytes", [1, 100, 350, 450, 550])
def test_a_run_is_refused_before_the_library_is(case, tmp_path, kilobytes):
    with no_file_beyond(1024 * kilobytes), pytest.raises(OSError, match=r"result\.h5\.part") as told:
        run(case, tmp_path, engine="full")
    assert told.value.errno == errno.EFBIG
    run(case, tmp_path, engine="full")
    assert read_result(tmp_path).complete
    assert (tmp_path / "result.h5").stat().st_size < 400_000  # of what was reserved nothing is left


def test_what_was_kept_stays_and_more_can_be(tmp_path):
    with Kept(tmp_path / "s.jsonl") as kept:
        kept.put("a", {"t": 1})
        with no_file_beyond(100), pytest.raises(OSError, match=r"s\.jsonl"):
            kept.put("b", {"t": "x" * 200})
        kept.put("c", {"t": 3})
    with Kept(tmp_path / "s.jsonl") as kept:
        assert [kept.get(key) for key in "abc"] == [{"t": 1}, None, {"t": 3}]


def test_a_file_is_replaced_whole_or_stays(tmp_path):
    path = write_whole(tmp_path / "facts.json", "old")
    with no_file_beyond(100), pytest.raises(OSError, match=r"facts\.json"):
        write_whole(path, "x" * 200)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
def test_the_message_names_the_file_and_says_what_to_do(number):
    text, status = of_system(OSError(number, "it is full", "outputs/box/sweep.json"))
    assert status == 3
    assert text.startswith("outputs/box/sweep.json: it is full; ")
    assert "make room" in text

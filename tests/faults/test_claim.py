"""One writer a file, whatever becomes of it."""

import errno
import os
import signal
import subprocess
import sys
from socket import gethostname

import pytest

from thermsim.store.claim import ClaimError, NoLocksWarning, claim
from thermsim.studies.kept import Kept
from thermsim.studies.run import run

HOLD = """
import sys, time
from thermsim.store.claim import claim
with claim(sys.argv[1]):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def holder(tmp_path):
    """Another process that writes result.h5."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path / "result.h5")], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.communicate()


def everything(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_second_writer_is_told_of_the_first_and_touches_nothing(holder, case, tmp_path, impatient):
    (tmp_path / "summary.json").write_text("{}")
    before = everything(tmp_path)
    with pytest.raises(
        ClaimError, match=rf"written by process {holder.pid} on {gethostname()} \(since \d{{4}}-"
    ) as told:
        run(case, tmp_path)
    assert told.value.exit_status == 2
    assert everything(tmp_path) == before


def test_a_kill_gives_the_file_back_at_once(holder, tmp_path):
    os.kill(holder.pid, signal.SIGKILL)
    holder.wait()
    assert (tmp_path / ".result.h5.lock").exists()  # what is left is no lock
    with claim(tmp_path / "result.h5", patience=0):
        pass
    assert list(tmp_path.iterdir()) == []


def test_it_is_given_back_after_an_error(tmp_path):
    with pytest.raises(KeyError), claim(tmp_path / "a"):
        raise KeyError
    with claim(tmp_path / "a", patience=0), claim(tmp_path / "b", patience=0):
        pass


def test_a_study_keeps_alone(tmp_path, impatient):
    with Kept(tmp_path / "s.jsonl") as kept:
        with pytest.raises(ClaimError, match="is being written by process"):
            Kept(tmp_path / "s.jsonl")
        kept.put("a", {"t": 1})
    with Kept(tmp_path / "s.jsonl") as kept:
        assert kept.get("a") == {"t": 1}


@pytest.mark.skipif(sys.platform == "win32", reason="flock is POSIX")
def test_a_file_system_without_locks_is_told_of(tmp_path, monkeypatch):
    def refuse(handle, how):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr("fcntl.flock", refuse)
    with pytest.warns(NoLocksWarning, match="has no locks"), claim(tmp_path / "a"):
        pass

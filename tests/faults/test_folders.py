"""Folders that cannot be written to, or that are taken away: found before the work, or at once."""

import os
from pathlib import Path
from shutil import rmtree

import pytest
from click.testing import CliRunner

from tests.faults.calls import BOX
from thermsim.cli import cli, of_system
from thermsim.studies.run import run

WORKING = ["run", "compare", "chill", "place", "mishap", "sweep", "loop", "report"]


def refused(command, folder):
    """What a command says that must not have worked: its case is read, nothing is built."""
    told = CliRunner().invoke(cli, [command, str(BOX), "-o", str(folder)])
    assert told.exit_code == 2, told.output
    return told.stderr


@pytest.fixture
def nothing_is_built(monkeypatch):
    def build(*arguments):
        raise AssertionError("work was done before the folder was looked at")

    for place in ("thermsim.studies.run.build", "thermsim.studies.settled.build"):
        monkeypatch.setattr(place, build)


@pytest.mark.parametrize("command", WORKING)
def test_a_read_only_folder_is_found_before_the_work(command, small_disk, nothing_is_built):
    place = small_disk(100)
    small_disk(100, "ro")
    assert f"nothing can be written to {place}" in refused(command, place / "deep" / "out")


@pytest.mark.parametrize("command", WORKING)
def test_so_is_one_that_its_owner_may_not_write_to(command, tmp_path, monkeypatch, nothing_is_built):
    access = os.access
    # to root no folder is closed: the system's answer to another user is put in its place
    monkeypatch.setattr(os, "access", lambda path, how: Path(path) != tmp_path and access(path, how))
    assert f"nothing can be written to {tmp_path}" in refused(command, tmp_path / "out")


@pytest.mark.parametrize("command", WORKING)
def test_so_is_a_file_in_the_way(command, tmp_path, nothing_is_built):
    (tmp_path / "out").write_text("")
    assert "is a file; expected a folder" in refused(command, tmp_path / "out")
    assert f"{tmp_path / 'out'} is a file" in refused(command, tmp_path / "out" / "deeper")


def test_looking_makes_nothing(tmp_path):
    told = CliRunner().invoke(cli, ["report", str(BOX), "--stored", "-o", str(tmp_path / "out")])
    assert told.exit_code == 2
    assert not (tmp_path / "out").exists()


def test_a_folder_that_vanishes_is_told_of_and_the_next_call_succeeds(case, tmp_path):
    def vanish(done, end):
        rmtree(tmp_path / "out", ignore_errors=True)

    with pytest.raises(FileNotFoundError, match=r"out/result\.h5\.part") as told:
        run(case, tmp_path / "out", vanish)
    text, status = of_system(told.value)
    assert (text, status) == (f"{tmp_path / 'out' / 'result.h5.part'}: No such file or directory", 2)
    assert run(case, tmp_path / "out").complete


def test_another_file_under_its_name_is_not_taken_for_the_result(case, tmp_path):
    partial = tmp_path / "result.h5.part"

    def replace(done, end):
        partial.unlink()
        partial.write_bytes(b"not ours")

    with pytest.raises(FileNotFoundError, match="replaced while it was written"):
        run(case, tmp_path, replace)
    assert partial.read_bytes() == b"not ours"
    assert not (tmp_path / "result.h5").exists()

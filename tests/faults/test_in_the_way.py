"""Links, pipes and folders under the names that are written: refused or replaced, nothing outside is touched."""

import os
import sys

import pytest

from tests.faults.calls import BOX, Call
from thermsim.store.layout import ResultError, check_replaceable
from thermsim.store.whole import write_whole
from thermsim.studies.kept import Kept
from thermsim.studies.run import run
from thermsim.studies.stored import store, stored

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of POSIX")


@pytest.fixture
def precious(tmp_path):
    """A file of another's."""
    path = tmp_path / "precious.txt"
    path.write_text("mine")
    yield path
    assert path.read_text() == "mine"


@pytest.mark.parametrize("name", ["result.h5.part", ".result.h5.lock"])
def test_a_run_writes_through_no_link(case, tmp_path, precious, name):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / name).symlink_to(precious)
    with pytest.raises(OSError, match="is no ordinary file; nothing was written through it") as told:
        run(case, tmp_path / "out")
    assert told.value.filename.endswith(name)


def test_links_under_the_final_names_are_replaced(case, tmp_path, precious):
    (tmp_path / "out").mkdir()
    for name in ("result.h5", "summary.json", ".summary.json.part"):
        (tmp_path / "out" / name).symlink_to(precious)
    assert run(case, tmp_path / "out").complete
    assert not any(path.is_symlink() for path in (tmp_path / "out").iterdir())
    os.symlink(precious, tmp_path / "page.html")
    assert write_whole(tmp_path / "page.html", "<p>").read_text() == "<p>"


def test_nothing_is_kept_through_a_link(tmp_path, precious):
    (tmp_path / "chill.kept.jsonl").symlink_to(precious)
    with pytest.raises(OSError, match="is no ordinary file"):
        Kept.of(tmp_path, "chill")


def test_folders_of_such_names_are_passed_over(case, tmp_path):
    (tmp_path / "chill.kept.1-of-2.jsonl").mkdir()
    with Kept.of(tmp_path, "chill") as kept:
        kept.put("key", {})
    (tmp_path / "chill.json").mkdir()
    store(tmp_path, case, {"study": "loop", "answer": []})
    assert set(stored(tmp_path, case)) == {"loop"}


@pytest.mark.slow
def test_a_pipe_in_place_of_a_result_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "result.h5")
    with pytest.raises(ResultError, match="is a folder, where"):
        check_replaceable(tmp_path)
    status, _, errors = Call(("run", str(BOX), "-o", str(tmp_path), "--no-figures")).ended(60)
    assert status == 2
    assert "result.h5 is no ordinary file, where a result is to go" in errors

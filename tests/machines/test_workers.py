"""Pieces of work: where they are done, what becomes of lost workers, threads, shares, cases under other names."""

import os
import subprocess
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from click.testing import CliRunner
from threadpoolctl import threadpool_info, threadpool_limits

from tests.machines.boxes import BOX, FILE
from thermsim.cli import cli
from thermsim.studies import compare as comparing
from thermsim.studies import workers
from thermsim.studies.alike import results_by_content
from thermsim.studies.compare import Runs, compare
from thermsim.studies.kept import Kept
from thermsim.studies.where import IN_THIS_PROCESS, Shard, Where, WorkersLost
from thermsim.studies.workers import Piece, as_done, work

SHORT = BOX.with_changes({"run.duration": "60 s"})


def plain(count: int) -> list[Piece]:
    """Pieces that any process can do."""
    return [Piece(f"{number}", dict, ([("number", number)],)) for number in range(count)]


@pytest.mark.slow
def test_lost_workers_are_said_once_and_the_same_call_goes_on(tmp_path):
    with Kept.of(tmp_path, "chill") as kept, pytest.raises(WorkersLost, match="and the same call goes on") as told:
        work([*plain(3), Piece("lost", os._exit, (7,))], kept, Where(processes=2))
    assert told.value.exit_status == 3
    with Kept.of(tmp_path, "chill") as kept:
        assert work(plain(3), kept, IN_THIS_PROCESS) == [{"number": number} for number in range(3)]


def test_quick_pieces_stay_here_until_processes_pay(monkeypatch):
    asked = []
    monkeypatch.setattr(workers, "worker_pool", lambda count: asked.append(count) or ThreadPoolExecutor(count))
    slow = [Piece(f"{number}", time.sleep, (0.03,)) for number in range(6)]
    for processes, start_s, wanted in (
        (4, 0.5, []),
        (1, 0.0, []),
        (4, 0.05, [4]),
        (None, 0.0, [min(os.cpu_count(), 6)]),
    ):
        asked.clear()
        assert {key for key, _ in as_done(slow, Where(processes), start_s)} == {piece.key for piece in slow}
        assert asked == wanted, (processes, start_s)


def blas_threads() -> list[int]:
    return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]


def test_the_linear_algebra_of_a_piece_has_one_thread():
    with threadpool_limits(2):
        assert set(blas_threads()) == {2}
        told = dict(as_done([Piece("only", blas_threads, ())], IN_THIS_PROCESS))
        assert set(blas_threads()) == {2}
    assert set(told["only"]) == {1}
    assert len(told["only"]) >= 2  # NumPy's library and SciPy's


def test_pieces_are_done_one_at_a_time_in_a_process():
    at_once, now = [], []

    def piece() -> None:
        now.append(1)
        at_once.append(len(now))
        time.sleep(0.02)
        now.pop()

    with ThreadPoolExecutor(3) as pool:
        list(as_done([Piece(f"{number}", piece, ()) for number in range(3)], Where(executor=pool)))
    assert at_once == [1, 1, 1]


def test_an_error_of_a_piece_stops_those_not_begun():
    begun = []

    def failing(number: int) -> None:
        begun.append(number)
        if number == 1:
            raise ValueError("no")

    with ThreadPoolExecutor(1) as pool, pytest.raises(ValueError, match="no"):
        list(as_done([Piece(f"{number}", failing, (number,)) for number in range(50)], Where(executor=pool)))
    assert len(begun) < 50


@pytest.mark.parametrize("of", [1, 2, 3, 7])
def test_shares_are_even_and_make_up_the_whole_whatever_is_finished(of):
    stages = [list("abcde"), list("fg"), list("hijklmnop")]
    finished = set("bfk")
    shares = []
    for number in range(1, of + 1):
        shard = Shard(number, of)
        shares.append([key for stage in stages for key in shard.share(stage, finished.__contains__)])
        assert shard.there + shard.others + len(shares[-1]) == 16
        assert abs(len(shares[-1]) + shard.there - 16 / of) < 1
    assert Counter(key for share in shares for key in share) == Counter(set("acdeghijlmnop"))


@pytest.mark.parametrize("text", ["0/2", "3/2", "1", "1/0", "a/b", "-1/2", "1/2/3", "²/3", ""])
def test_a_shard_that_makes_no_sense_is_refused(text, tmp_path):
    told = CliRunner().invoke(cli, ["chill", str(FILE), "--shard", text, "-o", str(tmp_path)])
    assert told.exit_code == 2
    assert 'expected such as "2/5"' in told.output


def test_workers_here_and_elsewhere_exclude_each_other(tmp_path):
    told = CliRunner().invoke(cli, ["mishap", str(FILE), "-j", "2", "--cluster", "tcp://127.0.0.1:1"])
    assert told.exit_code == 2
    assert "give one of them" in told.output


@pytest.fixture
def ran(monkeypatch):
    """Options whose cases are run in this process."""
    found, run = [], comparing.run

    def noted(case, *arguments, **more):
        found.append(case.option)
        return run(case, *arguments, **more)

    monkeypatch.setattr(comparing, "run", noted)
    return found


def test_a_case_under_another_name_is_not_run_again(ran, tmp_path):
    before = compare(SHORT, tmp_path, ["base", "slow pump"], IN_THIS_PROCESS)
    assert ran == [None, "slow pump"]
    paste = SHORT.with_option("slow pump")
    again = Runs({"renamed": _renamed(paste, "renamed"), "base": SHORT}, tmp_path, "reduced")
    again.finish(IN_THIS_PROCESS)
    assert ran == [None, "slow pump"]
    found = again.results()["renamed"]
    assert found.option == found.summary["option"] == "renamed"
    assert found.summary == before["slow pump"].summary | {"option": "renamed"}
    assert again.has("renamed")
    assert not results_by_content(tmp_path, "full")  # of the other engine nothing is taken over


def test_cases_alike_under_two_names_are_run_once(ran, tmp_path):
    runs = Runs({name: _renamed(SHORT, name) for name in ("one", "two")}, tmp_path, "reduced")
    runs.finish(IN_THIS_PROCESS)
    assert ran == ["one"]
    one, two = runs.results().values()
    assert (one.option, two.option) == ("one", "two")
    assert (one.part("hot").values == two.part("hot").values).all()


def _renamed(case, name):
    """The same box, as an option of another name."""
    return replace(case, option=name)


def test_files_come_back_where_no_folder_is_shared(tmp_path):
    with ThreadPoolExecutor(1) as pool:
        found = compare(SHORT, tmp_path, ["base"], Where(executor=pool))
    assert found["base"].complete
    assert {path.name for path in (tmp_path / "base").iterdir()} == {"result.h5", "summary.json"}


TWO_THREADS = """
from threading import Barrier, Thread
from thermsim.model.sheets import quiet_fipy
together, found = Barrier(2), []
def use():
    together.wait()
    found.append(quiet_fipy())
threads = [Thread(target=use) for _ in range(2)]
for thread in threads: thread.start()
for thread in threads: thread.join()
print(len(found))
"""


@pytest.mark.slow
def test_threads_may_run_cases_side_by_side():
    done = subprocess.run([sys.executable, "-c", TWO_THREADS], capture_output=True, text=True)
    assert (done.stdout, done.stderr) == ("2\n", "")

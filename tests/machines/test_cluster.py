"""A cluster of a scheduler and two worker processes on this machine: the same facts, also when a worker is killed."""

import json
import logging
import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import nullcontext
from threading import Thread

import pytest
from click.testing import CliRunner

from tests.machines.boxes import BOX, FILE, facts_of, unclocked
from thermsim.cli import cli
from thermsim.commands.where import _where as commanded
from thermsim.studies import cluster as clusters
from thermsim.studies.cluster import ClusterError, Watch, check_workers, cluster, versions
from thermsim.studies.decide.study import compare_study
from thermsim.studies.where import IN_THIS_PROCESS, WorkersLost

SCHEDULER = "distributed.cli.dask_scheduler"
WORKER = "distributed.cli.dask_worker"


def started(module: str, *arguments: str) -> subprocess.Popen:
    """A dask command in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", module, *arguments, "--no-dashboard"], stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, env=os.environ | {"OMP_NUM_THREADS": "1"},
    )  # fmt: skip


@pytest.fixture
def scheduler(tmp_path):
    """The address of a scheduler without workers."""
    file = tmp_path / "scheduler.json"
    process = started(SCHEDULER, "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file))
    until = time.monotonic() + 60
    while not file.exists() or not file.read_text().endswith("}"):
        assert process.poll() is None
        assert time.monotonic() < until
        time.sleep(0.05)
    yield json.loads(file.read_text())["address"]
    process.terminate()
    process.wait(30)


def work_for(address: str) -> subprocess.Popen:
    """A worker of one thread."""
    return started(WORKER, address, "--nthreads", "1", "--no-nanny", "--host", "127.0.0.1")


@pytest.mark.slow
def test_a_cluster_gives_the_same_and_a_worker_may_be_lost(scheduler, tmp_path):
    told = CliRunner().invoke(cli, ["loop", str(FILE), "--cluster", scheduler, "-o", str(tmp_path)])
    assert isinstance(told.exception, ClusterError)
    assert "the scheduler has no workers; start some with `dask worker ADDRESS" in str(told.exception)
    workers = [work_for(scheduler) for _ in range(2)]
    killed = []

    def kill_one(done: float, total: float) -> None:
        if not killed:
            killed.append(workers[0].pid)
            os.kill(workers[0].pid, signal.SIGKILL)

    try:
        _until_there(scheduler, 2)
        with cluster(scheduler) as where:
            facts = compare_study(BOX, tmp_path / "away", where=where, draws=16, progress=kill_one)[1]
        assert workers[0].wait(10) == -signal.SIGKILL
        assert workers[1].poll() is None
    finally:
        for worker in workers:
            worker.kill()
            worker.wait(10)
    assert unclocked(json.loads(json.dumps(facts))) == facts_of("compare", tmp_path / "here", IN_THIS_PROCESS)


def _until_there(address: str, count: int) -> None:
    """Wait until a scheduler knows so many workers."""
    import distributed

    with distributed.Client(address, set_as_default=False) as client:
        client.wait_for_workers(count, timeout=60)


def test_nobody_there_is_said_soon(tmp_path, monkeypatch):
    monkeypatch.setattr(clusters, "ANSWER_S", 0.3)
    told = CliRunner().invoke(cli, ["chill", str(FILE), "--cluster", "tcp://127.0.0.1:9", "-o", str(tmp_path / "out")])
    assert isinstance(told.exception, ClusterError)
    assert told.exception.exit_status == 2
    assert "no scheduler answers within 0.3 s" in str(told.exception)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("banner", [b"", b"SSH-2.0-server\r\n"])
def test_another_kind_of_server_is_not_waited_for(banner, monkeypatch):
    """It may keep silent, where a client of dask waits for ever, or send what reads as a message of exabytes."""
    monkeypatch.setattr(clusters, "ANSWER_S", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            connection = server.accept()[0]
            connection.sendall(banner)
            time.sleep(10)
            connection.close()

        Thread(target=serve, daemon=True).start()
        began = time.monotonic()
        with (
            pytest.raises(ClusterError, match=r"no scheduler answers within 0\.5 s"),
            cluster(f"tcp://127.0.0.1:{server.getsockname()[1]}"),
        ):
            pass
    assert time.monotonic() - began < 9


def test_what_its_library_logs_is_not_shown(monkeypatch, caplog):
    monkeypatch.setattr(clusters, "cluster", lambda address: nullcontext(IN_THIS_PROCESS))
    with commanded(None, "tcp://there", None):
        logging.getLogger("distributed.client").error("a traceback")
    assert not caplog.records
    logging.getLogger("another").error("shown")
    assert len(caplog.records) == 1


@pytest.mark.parametrize("address", ["nonsense://x", "host", "tcp://", "tcp://127.0.0.1:notaport"])
def test_an_address_that_is_none_is_refused(address, monkeypatch):
    monkeypatch.setattr(clusters, "ANSWER_S", 0.3)
    with pytest.raises(ClusterError, match="no scheduler answers"), cluster(address):
        pass


def test_without_the_extra_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r'pip install "thermsim\[cluster\]"'), cluster("tcp://127.0.0.1:9"):
        pass


class Told:
    """A client whose workers answer what it is made with."""

    def __init__(self, *answers) -> None:
        self.answers = {f"tcp://w{k}": answer for k, answer in enumerate(answers)}

    def nthreads(self):
        return dict.fromkeys(self.answers, 1)

    def run(self, function):
        if any(isinstance(answer, Exception) for answer in self.answers.values()):
            raise next(iter(self.answers.values()))
        return self.answers

    class scheduler:
        address = "tcp://here"


def test_workers_of_another_version_are_refused():
    check_workers(Told(versions(), versions()), "tcp://here")
    with pytest.raises(ClusterError, match=r"worker tcp://w1 has thermsim 0\.0\.1 in place of .*; all must be of one"):
        check_workers(Told(versions(), ("0.0.1", versions()[1])), "tcp://here")
    with pytest.raises(ClusterError, match=r"worker tcp://w0 has Python 3\.9 in place of"):
        check_workers(Told((versions()[0], "3.9")), "tcp://here")
    with pytest.raises(ClusterError, match="cannot import thermsim"):
        check_workers(Told(ModuleNotFoundError("No module named 'thermsim'")), "tcp://here")


def test_no_worker_left_for_a_minute_is_given_up(monkeypatch):
    now = [0.0]
    monkeypatch.setattr(clusters, "monotonic", lambda: now[0])
    client = Told()
    watch = Watch(client)
    watch()
    now[0] = 59.0
    watch()
    client.answers["tcp://w0"] = versions()
    watch()  # one came back: counted anew
    client.answers.clear()
    now[0] = 100.0
    watch()
    now[0] = 161.0
    with pytest.raises(WorkersLost, match="no worker is left at tcp://here"):
        watch()

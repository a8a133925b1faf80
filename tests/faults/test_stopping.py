"""Ctrl-C, SIGTERM, a parent that is killed: an end soon, in one line, without orphans; what is finished is kept."""

import os
import signal
import subprocess
import sys
import time

import pytest

from tests.faults.calls import BOX, Call, check_whole
from tests.faults.campaign import SOON, begin

STOPPED = "stopped; what was finished is kept\n"


def wait_for(folder, pattern, call):
    """Wait until a file is there."""
    until = time.monotonic() + 60
    while not any(folder.rglob(pattern)):
        assert call.process.poll() is None, call.ended()
        assert time.monotonic() < until
        time.sleep(0.01)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sent", "whole_group", "status"),
    [(signal.SIGINT, True, 130), (signal.SIGTERM, False, 143), (signal.SIGKILL, False, -9)],
)
def test_workers_end_with_the_call(tmp_path, sent, whole_group, status):
    call = begin("compare", tmp_path)
    wait_for(tmp_path, "result.h5.part", call)  # a worker is at it
    assert len(call.members()) > 2
    call.send(sent, whole_group)
    began = time.monotonic()
    told = call.ended(SOON)
    assert told[0] == status
    if sent != signal.SIGKILL:
        assert told[2] == STOPPED
    call.alone_within(SOON)
    assert time.monotonic() - began < SOON
    check_whole(tmp_path)


@pytest.mark.slow
def test_figures_are_whole_or_not_there(tmp_path):
    call = Call(("run", str(BOX), "-o", str(tmp_path)))
    wait_for(tmp_path, "*.png", call)
    call.send(signal.SIGINT, whole_group=True)
    status, _, errors = call.ended(SOON)
    assert (status, errors) == (130, STOPPED)
    check_whole(tmp_path)
    assert (tmp_path / "result.h5").exists()  # finished before, and kept


IDLE = """
import os, time
from thermsim.studies.leash import signals_held
from thermsim.studies.workers import worker_pool
if __name__ == "__main__":
    with worker_pool(2) as pool:
        with signals_held():
            numbers = {one.result() for one in [pool.submit(os.getpid) for _ in range(8)]}
        print(*numbers, flush=True)
        input()
        pool.submit(time.sleep, 0.1).result()
        print("through", flush=True)
"""


def test_workers_leave_ctrl_c_to_their_parent(tmp_path):
    script = tmp_path / "study.py"  # fresh processes read it in again
    script.write_text(IDLE)
    pipes = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.PIPE)
    with subprocess.Popen([sys.executable, script], text=True, **pipes) as process:
        for worker in process.stdout.readline().split():
            os.kill(int(worker), signal.SIGINT)
        assert process.communicate("\n", timeout=SOON) == ("through\n", "")


HELD = """
import signal
from thermsim.studies.leash import signals_held
try:
    with signals_held():
        signal.raise_signal(signal.SIGINT)
        print("held", flush=True)
except KeyboardInterrupt:
    print("then told of")
"""


def test_a_signal_waits_while_workers_are_begun():
    done = subprocess.run([sys.executable, "-c", HELD], capture_output=True, text=True)
    assert done.stdout == "held\nthen told of\n", done.stderr


STUBBORN = """
import sys, time
from thermsim.stopping import Stopping
Stopping().listen()
try:
    print("ready", flush=True)
    time.sleep(60)
except BaseException:
    print("asked", flush=True)
time.sleep(60)
"""


def test_who_asks_again_is_not_kept_waiting():
    with subprocess.Popen([sys.executable, "-c", STUBBORN], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline() == "ready\n"
        process.send_signal(signal.SIGTERM)
        assert process.stdout.readline() == "asked\n"
        process.send_signal(signal.SIGTERM)  # at once: some senders do that
        time.sleep(0.2)
        assert process.poll() is None
        time.sleep(1.0)
        process.send_signal(signal.SIGINT)
        assert process.wait(10) == 143


CONVERTED = """
import os, signal, sys
import thermsim.cli
def command():
    try:
        os.kill(os.getpid(), signal.SIGTERM)
        sum(range(10**7))
    except BaseException:
        raise ImportError("a library that was cut short while it was read in")
thermsim.cli.cli = lambda **how: command()
thermsim.cli.main()
"""


def test_an_error_that_the_stop_became_is_still_the_stop():
    done = subprocess.run([sys.executable, "-c", CONVERTED], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (143, STOPPED)


SWALLOWED = """
import os, signal, time, weakref
import thermsim.cli
class Thing: pass
def command():
    thing = Thing()
    watch = weakref.ref(thing, lambda _: os.kill(os.getpid(), signal.SIGTERM))
    del thing  # what is raised while this is tidied up, the interpreter drops
    time.sleep(5)
    print("went on")
thermsim.cli.cli = lambda **how: command()
thermsim.cli.main()
"""


def test_a_stop_that_the_interpreter_dropped_is_asked_again():
    done = subprocess.run([sys.executable, "-c", SWALLOWED], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (143, "", STOPPED)


def test_a_signal_that_the_caller_ignores_stays_ignored():
    code = (
        "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\n"
        "from thermsim.stopping import Stopping; Stopping().listen()\n"
        "signal.raise_signal(signal.SIGINT); print('went on')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout == "went on\n", done.stderr


CLOSED = """
import sys
import thermsim.cli
def command():
    with open(sys.argv[1], "w") as file:
        file.write(f"{file.fileno() > 2} {sys.stdin.read()!r} {sys.stdout.isatty()}")
    print("to nobody")
thermsim.cli.cli = lambda **how: command()
thermsim.cli.main()
"""


def test_closed_streams_are_not_taken_for_files(tmp_path):
    """A result would get the number of standard output, and what is printed would go into it."""
    shell = f'exec "{sys.executable}" -c "$0" "$1" <&- >&- 2>&-'
    done = subprocess.run(["sh", "-c", shell, CLOSED, tmp_path / "told"])
    assert (done.returncode, (tmp_path / "told").read_text()) == (0, "True '' False")

"""Worker processes that end with their parent: when a study is stopped, and when the parent is killed.

Each worker waits, beside its work, for the end of a pipe that only the parent holds open. A worker may end at any
instant: what it stores appears whole or not at all.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from threading import Thread

from thermsim.stopping import STOPS


def follow(held: Connection) -> None:
    """Begin a worker: end when the other end of `held` is closed, leave Ctrl-C to the parent."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.platform != "win32":
        signal.pthread_sigmask(signal.SIG_UNBLOCK, STOPS)
    Thread(target=_end_with, args=(held,), daemon=True).start()


def _end_with(held: Connection) -> None:
    try:
        held.recv_bytes()
    except (EOFError, OSError):
        os._exit(1)


@contextmanager
def signals_held() -> Iterator[None]:
    """Keep signals waiting; workers begun within inherit that, so that none is hit before `follow` readies it."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, STOPS)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)

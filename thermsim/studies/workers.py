"""Pieces of work, done wherever a `Where` says, and kept as they finish.

All studies pass through `do`. A piece depends on its arguments alone, and its linear algebra runs on one thread, so
that what comes out is the same bit for bit wherever it was done and whatever was done before.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from queue import Empty, SimpleQueue
from threading import RLock
from time import monotonic
from typing import Any, Protocol

from thermsim.studies.kept import Facts, Kept
from thermsim.studies.leash import follow, signals_held
from thermsim.studies.where import HERE, Where, WorkersLost

Progress = Callable[[float, float], None]
BLAS_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
START_S = 3.0  # what it takes, at most, until fresh processes have read the libraries in and are at work
WATCH_S = 5.0  # between looks whether there are workers at all
_one_at_a_time = RLock()


@dataclass(frozen=True)
class Piece:
    """A function, its arguments, and the key that its outcome goes by."""

    key: str
    function: Callable[..., Any]
    arguments: tuple[Any, ...]


class Home(Protocol):
    """Where outcomes are kept under their keys."""

    def has(self, key: str) -> bool:
        """Whether a piece is done."""

    def put(self, key: str, outcome: Any) -> Any:
        """Keep what a piece gave."""


def work(
    pieces: Sequence[Piece], kept: Kept, where: Where = HERE, progress: Progress | None = None, start_s: float = 0.0
) -> list[Facts]:
    """`do`, and the plain facts of each piece; of a shard those of others' pieces are empty if not there yet."""
    do(pieces, kept, where, progress, start_s)
    return [kept.get(piece.key) or {} for piece in pieces]


def do(
    pieces: Sequence[Piece], home: Home, where: Where = HERE, progress: Progress | None = None, start_s: float = 0.0
) -> None:
    """Do every piece that its home does not have, of a shard its share of them. `progress`: pieces done, and all.

    `start_s`: what a fresh process here needs until it is at work, s. If not zero, pieces are begun in this one, and
    processes started when those left are so long that it pays; else at once.
    """
    every = {piece.key: piece for piece in pieces}
    shard = where.shard
    keys = [key for key in every if not home.has(key)] if shard is None else shard.share(every, home.has)
    done = len(every) - len(keys)
    with closing(as_done([every[key] for key in keys], where, start_s)) as outcomes:
        for key, outcome in outcomes:
            home.put(key, outcome)
            done += 1
            if shard is not None:
                shard.done += 1
            if progress:
                progress(done, len(every))


def as_done(
    pieces: Sequence[Piece], where: Where = HERE, start_s: float = 0.0
) -> Generator[tuple[str, Any], None, None]:
    """Key and outcome of each piece as it finishes; one alone is done here. An error stops those not yet begun.

    Raises `WorkersLost` where the workers end before they are through.
    """
    if where.executor is not None:
        yield from _through(where.executor, pieces, where)
        return
    count, left = min(where.processes or os.cpu_count() or 1, len(pieces)), list(pieces)
    spent = 0.0
    while left and (count < 2 or _gain(spent, len(pieces) - len(left), len(left), count) < start_s):
        began, piece = monotonic(), left.pop(0)
        outcome = alone(piece.function, piece.arguments)
        spent += monotonic() - began
        yield piece.key, outcome
    if left:
        with one_thread_each(), worker_pool(min(count, len(left))) as pool:
            try:
                yield from _through(pool, left, where)
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise


def _gain(seconds: float, done: int, left: int, count: int) -> float:
    """Seconds that so many processes would save on what is left, at the pace so far; none before there is one."""
    return seconds / done * left * (1 - 1 / min(count, left)) if done else 0.0


def _through(executor: Executor, pieces: Sequence[Piece], where: Where) -> Generator[tuple[str, Any], None, None]:
    """Key and outcome of each piece as an executor gives them."""
    keys: dict[Future[Any], str] = {}
    finished: SimpleQueue[Future[Any]] = SimpleQueue()
    try:
        with signals_held():
            for piece in pieces:
                future = executor.submit(alone, piece.function, piece.arguments)
                keys[future] = piece.key
                future.add_done_callback(finished.put)
        while keys:
            future = _next(finished, where.watch)
            yield keys.pop(future), future.result()
    except where.lost as error:
        told = f"{type(error).__name__}: {error}".rstrip(": ")
        raise WorkersLost(
            f"workers ended before their work was done ({told}); what was finished is kept, and the same call goes on"
        ) from error
    finally:
        for future in keys:
            future.cancel()


def _next(finished: SimpleQueue[Future[Any]], watch: Callable[[], None] | None) -> Future[Any]:
    """The next that is finished, watching meanwhile."""
    while True:
        try:
            return finished.get(timeout=None if watch is None else WATCH_S)
        except Empty:
            if watch is not None:
                watch()


def alone(function: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
    """Do a piece: on one thread, and one at a time in a process, for FiPy reads settings of the whole process."""
    import scipy.linalg  # noqa: F401  # its library must be there to be told
    from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]

    with _one_at_a_time, threadpool_limits(1):
        return function(*arguments)


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Workers started within keep their linear algebra to one thread: small dense work is slower on two."""
    before = {name: os.environ.get(name) for name in BLAS_THREADS}
    os.environ.update(dict.fromkeys(BLAS_THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextmanager
def worker_pool(processes: int) -> Iterator[Executor]:
    """Fresh processes (forking with open HDF5 files is unsafe), which end at once where they are no longer wanted."""
    context = get_context("spawn")
    held, end = context.Pipe(duplex=False)
    with held, end, ProcessPoolExecutor(processes, context, initializer=follow, initargs=(held,)) as pool:
        try:
            yield pool
        except Exception:
            raise
        except BaseException:
            end.close()
            raise

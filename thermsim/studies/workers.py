"""Pieces of work on the machine's cores, kept as they finish."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any

from thermsim.studies.kept import Facts, Kept

BLAS_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True)
class Piece:
    """A function, its arguments, and the key that its outcome goes by."""

    key: str
    function: Callable[..., Any]
    arguments: tuple[Any, ...]


def work(
    pieces: Sequence[Piece],
    kept: Kept,
    workers: int | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> list[Facts]:
    """Plain facts of each piece; those kept before are taken as they are. `progress`: pieces done, and all."""
    waiting = [piece for piece in pieces if kept.get(piece.key) is None]
    for done, (key, facts) in enumerate(as_done(waiting, workers), start=len(pieces) - len(waiting) + 1):
        kept.put(key, facts)
        if progress:
            progress(done, len(pieces))
    return [kept.get(piece.key) or {} for piece in pieces]


def as_done(pieces: Sequence[Piece], workers: int | None = None) -> Iterator[tuple[str, Any]]:
    """Key and outcome of each piece as it finishes; one alone is done here. An error stops those not yet begun."""
    if len(pieces) == 1:
        yield pieces[0].key, pieces[0].function(*pieces[0].arguments)
    if len(pieces) < 2:
        return
    with one_thread_each(), worker_pool(workers, len(pieces)) as pool:
        futures = {pool.submit(piece.function, *piece.arguments): piece.key for piece in pieces}
        try:
            for future in as_completed(futures):
                yield futures[future], future.result()
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


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


def worker_pool(workers: int | None, tasks: int) -> Executor:
    """Fresh processes (forking with open HDF5 files is unsafe), no more than there are tasks."""
    count = max(1, min(workers or os.cpu_count() or 1, tasks))
    return ProcessPoolExecutor(count, mp_context=get_context("spawn"))

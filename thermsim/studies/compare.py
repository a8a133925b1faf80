"""Every option of a case, run side by side on the machine's cores."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path

from thermsim.case.case import Case
from thermsim.case.names import slug
from thermsim.solve.engine import Engine
from thermsim.store.result import Result, read_result, read_stamp
from thermsim.studies.run import run

BASE = "base"
BLAS_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def compare(
    case: Case,
    folder: str | Path,
    options: Sequence[str] | None = None,
    workers: int | None = None,
    progress: Callable[[float, float], None] | None = None,
    engine: Engine = "reduced",
) -> dict[str, Result]:
    """Run the base case and every option (or those named) into folders of `folder`; results by option name.

    A finished result of the very same case and version is taken as it is, so a call that was interrupted goes
    on where it stopped. The order is that of the case file. Runs start in fresh processes: a script that calls
    this must do so under `if __name__ == "__main__":`.
    """
    folder = Path(folder)
    names = [BASE, *case.options] if options is None else list(options)
    cases = {name: case.with_option(None if name == BASE else name) for name in names}
    places = {name: folder / slug(name) for name in names}
    waiting = [name for name in names if not is_finished(cases[name], places[name], engine)]
    with one_thread_each(), worker_pool(workers, len(waiting)) as pool:
        futures = {pool.submit(_run_one, cases[name], places[name], engine): name for name in waiting}
        try:
            for done, future in enumerate(as_completed(futures), start=len(names) - len(waiting) + 1):
                future.result()
                if progress:
                    progress(done, len(names))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return {name: read_result(places[name]) for name in names}


def is_finished(case: Case, folder: Path, engine: Engine = "reduced") -> bool:
    """Whether a folder holds the whole result of this very case, made by this version and engine."""
    return read_stamp(folder / "result.h5") == (case.fingerprint(), version("thermsim"), engine)


def _run_one(case: Case, folder: Path, engine: Engine) -> None:
    run(case, folder, engine=engine)


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Workers started within keep their linear algebra to one thread: small dense work is slower on two."""
    kept = {name: os.environ.get(name) for name in BLAS_THREADS}
    os.environ.update(dict.fromkeys(BLAS_THREADS, "1"))
    try:
        yield
    finally:
        for name, value in kept.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def worker_pool(workers: int | None, tasks: int) -> Executor:
    """Fresh processes (forking with open HDF5 files is unsafe), no more than there are tasks."""
    count = max(1, min(workers or os.cpu_count() or 1, tasks))
    return ProcessPoolExecutor(count, mp_context=get_context("spawn"))

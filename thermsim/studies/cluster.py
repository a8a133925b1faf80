"""Workers of a dask cluster, reached by the address of its scheduler (extra `cluster`)."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, CancelledError, ThreadPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from importlib.metadata import version
from time import monotonic
from typing import Any

from thermsim.studies.where import Where, WorkersLost

ANSWER_S = 5.0  # within which the scheduler must answer
ALONE_S = 60.0  # without any worker, until the work is given up
HOW = "dask worker ADDRESS --nworkers auto --nthreads 1"
Versions = tuple[str, str]  # of thermsim and of Python


class ClusterError(Exception):
    """A cluster that cannot be used; the message says why and what to do."""

    exit_status = 2


@contextmanager
def cluster(address: str) -> Iterator[Where]:
    """Pieces of work on the workers of a scheduler, such as tcp://host:8786.

    Raises `ClusterError` where the extra is missing, nobody answers, or the workers are not of this version.
    """
    try:
        distributed: Any = import_module("distributed")
        comm: Any = import_module("distributed.comm")
    except ImportError as error:
        raise ClusterError(f'--cluster needs the extra: pip install "thermsim[cluster]" ({error})') from None
    try:
        with ThreadPoolExecutor(1) as thread:  # the caller may be within a loop of its own, as in a notebook
            thread.submit(asyncio.run, _knock(comm.connect, address)).result()
        client = distributed.Client(address, timeout=ANSWER_S, set_as_default=False)
    except Exception as error:  # what another kind of server sends may come to anything
        why = f"{error}".strip().splitlines()
        raise ClusterError(
            f"--cluster {address}: no scheduler answers within {ANSWER_S:g} s ({why[0] if why else 'no reply'}); "
            "start one with `dask scheduler`"
        ) from None
    with client:
        check_workers(client, address)
        # distributed's FuturesCancelledError is a CancelledError of its own
        lost = (
            BrokenExecutor,
            CancelledError,
            distributed.CancelledError,
            distributed.KilledWorker,
            comm.CommClosedError,
        )
        yield Where(executor=client.get_executor(pure=False), lost=lost, watch=Watch(client))


async def _knock(connect: Any, address: str) -> None:
    """See that a scheduler answers: a client waits for ever where another kind of server listens and keeps silent."""
    comm = await asyncio.wait_for(connect(address), ANSWER_S)
    await comm.close()


def check_workers(client: Any, address: str) -> None:
    """Raise `ClusterError` unless there are workers, all with this version of thermsim and of Python."""
    if not threads_by_worker(client):
        raise ClusterError(f"--cluster {address}: the scheduler has no workers; start some with `{HOW}`")
    try:
        told: dict[str, Versions] = client.run(versions)
    except Exception as error:  # whatever the workers raise at a name they do not have
        raise ClusterError(f"--cluster {address}: the workers cannot import thermsim ({error})") from None
    here, names = versions(), ("thermsim", "Python")
    for worker, there in told.items():
        wrong = [
            f"{name} {theirs} in place of {own}"
            for name, theirs, own in zip(names, there, here, strict=True)
            if theirs != own
        ]
        if wrong:
            raise ClusterError(
                f"--cluster {address}: worker {worker} has {' and '.join(wrong)}; all must be of one version"
            )


def versions() -> Versions:
    """Of thermsim and of Python, major and minor: what a worker is asked at the start."""
    return version("thermsim"), ".".join(map(str, sys.version_info[:2]))


def threads_by_worker(client: Any) -> dict[str, int]:
    """Threads of every worker that the scheduler knows now."""
    return dict(client.nthreads())


class Watch:
    """Called while nothing comes in: raises `WorkersLost` when there has been no worker for `ALONE_S`."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._alone_since: float | None = None

    def __call__(self) -> None:
        """Look whether there is anyone."""
        if threads_by_worker(self._client):
            self._alone_since = None
            return
        self._alone_since = self._alone_since if self._alone_since is not None else monotonic()
        if monotonic() - self._alone_since > ALONE_S:
            raise WorkersLost(
                f"no worker is left at {self._client.scheduler.address}; what was finished is kept, and the same call "
                "goes on once there are some"
            )

"""One writer a file: a lock that the kernel gives back when its process ends, however it ends.

The lock is on a small dot-file beside what is claimed, which tells who holds it. Nothing here rests on a clock or on
a number of a process: a file left by a kill is no lock.
"""

from __future__ import annotations

import errno
import json
import os
import stat
import sys
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from socket import gethostname

PATIENCE = 3.0  # s; workers of a call that was killed take a moment to follow it
LOCKED_BYTE = 1 << 30  # Windows lets nobody read a locked byte, so one beyond what is written
NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL)


class ClaimError(Exception):
    """Another process writes this file."""

    exit_status = 2


class NoLocksWarning(UserWarning):
    """The file system of a folder has no locks."""


@contextmanager
def claim(path: str | Path, patience: float | None = None) -> Iterator[None]:
    """Hold `path` for this writer alone; its folder is made. `ClaimError` if another has it after `patience`, s.

    Advisory: who writes without asking is not kept out. A file system without locks is told of in a `NoLocksWarning`.
    """
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    lock = path.with_name(f".{path.name}.lock")
    check_ordinary(lock)
    handle = _take(path, lock, time.monotonic() + (PATIENCE if patience is None else patience))
    try:
        os.ftruncate(handle, 0)
        holder = {"pid": os.getpid(), "host": gethostname(), "since": f"{datetime.now():%Y-%m-%d %H:%M:%S}"}
        with suppress(OSError):  # a full disk keeps nobody from holding the lock
            os.write(handle, json.dumps(holder).encode())
        yield
    finally:
        with suppress(OSError):
            lock.unlink()  # while it is still held: who opened it meanwhile sees that it is no longer there
        os.close(handle)


def check_ordinary(path: Path) -> None:
    """Raise `OSError` where what stands there is no ordinary file: a link leads elsewhere, a pipe may wait for ever."""
    with suppress(FileNotFoundError):
        if stat.S_ISREG(path.lstat().st_mode):
            return
        raise OSError(errno.EINVAL, "is no ordinary file; nothing was written through it", str(path))


def _take(path: Path, lock: Path, until: float) -> int:
    """An open handle on the lock file as it stands in its folder, locked."""
    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            taken = _lock(handle)
        except OSError as error:
            if error.errno not in NO_LOCKS:
                os.close(handle)
                raise
            warnings.warn(
                f"{path.parent}: this file system has no locks; see that no second call writes there at the same time",
                NoLocksWarning, stacklevel=4,
            )  # fmt: skip
            return handle
        if taken and _stands(handle, lock):
            return handle
        os.close(handle)
        if taken:
            continue  # its last holder took it away meanwhile
        if time.monotonic() >= until:
            raise ClaimError(f"{path} is being written by {_holder(lock)}; let that end, or choose another folder (-o)")
        time.sleep(0.05)


def _stands(handle: int, lock: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), lock.stat())
    except FileNotFoundError:
        return False


def _holder(lock: Path) -> str:
    """Who holds a lock, in words."""
    try:
        told = json.loads(lock.read_text(encoding="utf-8"))
        return f"process {told['pid']} on {told['host']} (since {told['since']})"
    except (OSError, ValueError, KeyError, TypeError):
        return "another process"


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> bool:
        os.lseek(handle, LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        os.lseek(handle, 0, os.SEEK_SET)
        return True

else:
    import fcntl

    def _lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

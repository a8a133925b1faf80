"""Memory that this process can have: of the machine, of its control group (a container's limit), of its own limit."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from math import inf
from pathlib import Path

MEMINFO = Path("/proc/meminfo")
CGROUP = Path("/proc/self/cgroup")
STATM = Path("/proc/self/statm")
MOUNT = Path("/sys/fs/cgroup")
NO_BOUND = 2**60  # control groups write a number as large where there is none


def available_bytes() -> float:
    """Memory that can be had without swapping and without being killed; infinite where nothing tells."""
    return max(min(_of_machine(), _of_groups(), _of_process()), 0.0)


def _of_machine() -> float:
    """What is free; all of the machine's where the system does not tell."""
    try:
        lines = MEMINFO.read_text().splitlines()
        return next(1024.0 * float(line.split()[1]) for line in lines if line.startswith("MemAvailable:"))
    except (OSError, StopIteration):
        pass
    try:
        return float(os.sysconf("SC_PAGE_SIZE")) * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):
        return inf


def _of_groups() -> float:
    """The tightest limit of the control group and those around it, less what they use and cannot give back."""
    return min((_left(*names) for names in _groups()), default=inf)


def _groups() -> Iterator[tuple[Path, str, str, str]]:
    """Folders of the group and those around it, and what their files are called in versions 1 and 2.

    Within a container the path may be told as seen from outside; then the top of the mount is the container's.
    """
    try:
        lines = CGROUP.read_text().splitlines()
    except OSError:
        return
    for line in lines:
        _, _, rest = line.partition(":")
        controllers, _, path = rest.partition(":")
        if controllers == "":
            top, names = MOUNT, ("memory.max", "memory.current", "inactive_file")
        elif "memory" in controllers.split(","):
            top, names = MOUNT / "memory", ("memory.limit_in_bytes", "memory.usage_in_bytes", "total_inactive_file")
        else:
            continue
        folder = top / path.lstrip("/")
        yield from ((one, *names) for one in (folder, *folder.parents) if one == top or top in one.parents)


def _left(folder: Path, limit: str, usage: str, cached: str) -> float:
    try:
        most = float((folder / limit).read_text())
        used = float((folder / usage).read_text())
    except (OSError, ValueError):  # "max" is no number
        return inf
    if most >= NO_BOUND:
        return inf
    with suppress(OSError, StopIteration, ValueError):
        stat = (line.split() for line in (folder / "memory.stat").read_text().splitlines())
        used -= next(float(value) for name, value in stat if name == cached)
    return most - used


def _of_process() -> float:
    """The process's own limit of address space (`ulimit -v`), less what it has taken."""
    try:
        import resource

        most = resource.getrlimit(resource.RLIMIT_AS)[0]
        if most == resource.RLIM_INFINITY:
            return inf
        taken = float(STATM.read_text().split()[0]) * os.sysconf("SC_PAGE_SIZE")
    except (ImportError, OSError):
        return inf
    return most - taken

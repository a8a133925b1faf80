"""Room on the disk, taken before it is needed.

A write that fails inside the HDF5 library leaves a file that can neither be used nor closed: the process ends in a
segmentation fault. So the room for each write is reserved first, and a full disk is met here, where nothing is lost.
"""

from __future__ import annotations

import os
from pathlib import Path

from thermsim.store.whole import naming

SPARE = 256 * 1024  # bytes; indices and headers of the file
SPARE_OF_DATASET = 16 * 1024  # bytes; a chunk begun, its index, the header of a new dataset


def reserve(path: Path, end: int, size: int, datasets: int = 0) -> None:
    """Have `size` bytes, and what HDF5 adds for `datasets`, on the disk beyond `end` of a file; `OSError` if not."""
    needed = size + SPARE + SPARE_OF_DATASET * datasets
    handle = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
    try:
        with naming(path):
            if hasattr(os, "posix_fallocate"):
                os.posix_fallocate(handle, end, needed)
            else:
                os.lseek(handle, end, os.SEEK_SET)
                while needed > 0:
                    needed -= os.write(handle, bytes(min(needed, SPARE)))
    finally:
        os.close(handle)

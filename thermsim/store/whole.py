"""Files that appear whole or not at all, whatever happens while they are written."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from thermsim.store.claim import claim

PARTIAL = ".part"


def write_whole(path: str | Path, content: str | bytes) -> Path:
    """Write a file under a name of its own beside `path`, then give it that name; returns the path.

    A reader finds what was there before or all of the new, also after a kill, a full disk or a power cut. What a kill
    leaves behind the next call writes over. The folder is made; a file that was there keeps its permissions.
    """
    path = Path(path)
    partial = path.with_name(f".{path.name}{PARTIAL}")
    with claim(path):
        try:
            partial.unlink(missing_ok=True)  # not written into: it may be a link
            with naming(path), partial.open("xb") as file:
                file.write(content.encode("utf-8") if isinstance(content, str) else content)
                file.flush()
                os.fsync(file.fileno())
            with suppress(FileNotFoundError):
                shutil.copymode(path, partial)
            partial.replace(path)
        except BaseException:
            partial.unlink(missing_ok=True)
            raise
        settle_folder(path.parent)
    return path


def write_json(path: str | Path, facts: Any, indent: int | None = 2) -> Path:
    """Write plain facts as JSON, whole or not at all; `indent` None: all on one line."""
    separators = None if indent else (",", ":")
    return write_whole(path, json.dumps(facts, indent=indent, separators=separators, ensure_ascii=False) + "\n")


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Have what the system refuses within tell of which file: writing alone does not."""
    try:
        yield
    except OSError as error:
        if error.errno is None or error.filename is not None:
            raise
        raise OSError(error.errno, error.strerror, str(path)) from None


def settle_folder(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system lets folders be opened."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)

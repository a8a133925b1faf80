"""Facts of finished cases, kept as they come, so that a study that was interrupted goes on where it stopped."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack
from importlib.metadata import version
from pathlib import Path
from typing import Any, Self

from thermsim.case.case import digest_of
from thermsim.store.claim import check_ordinary, claim
from thermsim.store.whole import naming
from thermsim.studies.where import Shard

Facts = dict[str, Any]
ENDING = ".kept"


class Kept:
    """A file of one line a finished case, each under the digest of what it was worked out from.

    A line cut short by a kill, changed since, or of another version, is passed over. One process writes: raises
    `ClaimError` while another does.
    """

    def __init__(self, path: Path, others: tuple[Path, ...] = ()) -> None:
        """`others`: files that are read too, such as those of shards."""
        self.path = path
        self._facts: dict[str, Facts] = {}
        self._stamp = version("thermsim")
        with ExitStack() as stack:
            stack.enter_context(claim(path))
            check_ordinary(path)
            for other in others:
                self._facts.update(whole_lines(other))
            self._facts.update(whole_lines(path))
            self._file = stack.enter_context(path.open("ab", buffering=0))
            self._torn = not _ends_whole(path)
            self._open = stack.pop_all()

    @classmethod
    def of(cls, folder: str | Path, study: str, shard: Shard | None = None) -> Self:
        """What a study keeps in a folder. A shard writes a file of its own; all of them are read."""
        folder = Path(folder)
        name = f"{study}{ENDING}" + (f".{shard.number}-of-{shard.of}" if shard else "") + ".jsonl"
        found = sorted(folder.glob(f"{study}{ENDING}*.jsonl"))
        return cls(folder / name, tuple(path for path in found if path.name != name))

    def has(self, key: str) -> bool:
        """Whether facts are kept under a key."""
        return key in self._facts

    def get(self, key: str) -> Facts | None:
        """Facts kept under a key, None if there are none."""
        return self._facts.get(key)

    def put(self, key: str, facts: Facts) -> Facts:
        """Keep facts (plain values) under a key; returns them as they would be read back."""
        again: Facts = json.loads(json.dumps(facts))
        told = {"version": self._stamp, "key": key, "digest": digest_of([key, again]), "facts": again}
        line = json.dumps(told, ensure_ascii=False)
        left = memoryview(f"{chr(10) if self._torn else ''}{line}\n".encode())
        self._torn = True  # should the disk be full, the next line begins on its own
        with naming(self.path):
            while left:
                left = left[self._file.write(left) :]
        self._torn = False
        self._facts[key] = again
        return again

    def close(self) -> None:
        """Close the file and let others write."""
        self._open.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()


def whole_lines(path: Path) -> dict[str, Facts]:
    """Facts by key of the whole lines of a file that this version wrote; none if there is no such file."""
    return dict(_whole_lines(path))


def _whole_lines(path: Path) -> Iterator[tuple[str, Facts]]:
    if not path.is_file():
        return
    text = path.read_text(encoding="utf-8", errors="replace")
    stamp = version("thermsim")
    for line in text.split("\n"):
        try:
            told = json.loads(line)
            if told["version"] == stamp and told["digest"] == digest_of([told["key"], told["facts"]]):
                yield told["key"], told["facts"]
        except (ValueError, KeyError, TypeError, RecursionError):
            continue


def _ends_whole(path: Path) -> bool:
    """Whether the last line of a file is a whole one."""
    with path.open("rb") as file:
        if file.seek(0, 2) == 0:
            return True
        file.seek(-1, 2)
        return file.read(1) == b"\n"

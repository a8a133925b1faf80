"""Facts of finished cases, kept as they come, so that a study that was interrupted goes on where it stopped."""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

Facts = dict[str, Any]


class Kept:
    """A file of one line a finished case, each under the digest of what it was worked out from.

    A line cut short by a kill, or of another version, is passed over. One process writes.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._facts: dict[str, Facts] = {}
        self._stamp = version("thermsim")
        whole = self._read()
        path.parent.mkdir(parents=True, exist_ok=True)
        self._file = path.open("a", encoding="utf-8")
        if not whole:
            self._file.write("\n")

    def _read(self) -> bool:
        """Take in what is there; whether its last line is a whole one."""
        try:
            text = self.path.read_text(encoding="utf-8", errors="replace")
        except FileNotFoundError:
            return True
        for line in text.splitlines():
            try:
                told = json.loads(line)
                if told["version"] == self._stamp:
                    self._facts[told["key"]] = told["facts"]
            except (ValueError, KeyError, TypeError):
                continue
        return text.endswith("\n") or not text

    def get(self, key: str) -> Facts | None:
        """Facts kept under a key, None if there are none."""
        return self._facts.get(key)

    def put(self, key: str, facts: Facts) -> Facts:
        """Keep facts (plain values) under a key; returns them as they would be read back."""
        line = json.dumps({"version": self._stamp, "key": key, "facts": facts}, ensure_ascii=False)
        self._file.write(line + "\n")
        self._file.flush()
        again: Facts = json.loads(line)["facts"]
        self._facts[key] = again
        return again

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def __enter__(self) -> Kept:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

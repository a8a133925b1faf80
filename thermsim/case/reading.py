"""From a file (or text, or plain tables) to raw tables and the lines they stand on."""

import math
import re
import stat
import tomllib
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from thermsim.case.errors import CaseError, Finding, KeyPath, Problem
from thermsim.case.lines import DEEPEST, Lines, dotted, key_lines, mentions
from thermsim.case.names import code, obeyed

Raw = dict[str, Any]

LARGEST_FILE_BYTES = 5_000_000
CASE_FILE = "case.toml"
MOST_NAMED = 2000  # tables of one kind, or keys of one table; checks compare each with each
MOST_ITEMS = 100_000  # of a list
LARGEST_WHOLE = 2**63  # TOML's whole numbers have 64 bits
# a.b.c… of so many pieces, where a key may stand
_PIECE = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*"""
_DEEP_KEY = re.compile(rf"(?:^|[\[{{,])[ \t]*(?:{_PIECE}){{{DEEPEST}}}", re.MULTILINE)


@dataclass(frozen=True)
class Source:
    """Raw tables as read, with the text they came from (none for plain tables) and a name for messages."""

    name: str
    raw: Raw
    text: str = ""

    @cached_property
    def lines(self) -> Lines:
        """Line of each key path, worked out only when asked for."""
        return key_lines(self.text)

    def line(self, path: KeyPath) -> int | None:
        """Line of a key path, or of the nearest table around it."""
        lengths = range(len(path), 0, -1)
        return next((self.lines[path[:n]] for n in lengths if path[:n] in self.lines), None)


def read_file(path: Path) -> Source:
    """Read a case file, or the `case.toml` of a folder; raises `CaseError`."""
    if "\0" in str(path):
        raise _whole_file(str(path), "no such file")
    if path.is_dir():
        if not (path / CASE_FILE).is_file():
            raise _whole_file(str(path), f"is a folder without a {CASE_FILE}")
        path = path / CASE_FILE
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise _whole_file(str(path), "is no ordinary file")
        if found.st_size > LARGEST_FILE_BYTES:
            limit = LARGEST_FILE_BYTES // 1_000_000
            raise _whole_file(path.name, f"is larger than {limit} MB; not a case file")
        text = path.read_bytes().decode("utf-8-sig") if found.st_size else ""
    except FileNotFoundError:
        raise _whole_file(str(path), "no such file") from None
    except UnicodeDecodeError as error:
        raise _whole_file(path.name, f"is not UTF-8 text (byte {error.start + 1})") from None
    except OSError as error:
        raise _whole_file(str(path), f"cannot be read ({error.strerror})") from None
    return read_text(text, path.name)


def read_text(text: str, name: str) -> Source:
    """Parse the text of a case file; raises `CaseError`."""
    if not text.strip():
        raise _whole_file(name, "is empty")
    text = text.replace("\r\n", "\n")
    if _DEEP_KEY.search(text):  # memory goes with the square of its depth
        raise _whole_file(name, "has tables or lists nested too deeply")
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CaseError([_syntax_problem(str(error), text, name)]) from None
    except RecursionError:
        raise _whole_file(name, "has tables or lists nested too deeply") from None
    except ValueError:  # of Python's, past 4300 digits
        raise _whole_file(name, "holds a number of thousands of digits") from None
    return _checked(Source(name, raw, text))


def read_tables(raw: Raw, name: str) -> Source:
    """Plain tables (as JSON or TOML would give them) as a source."""
    return _checked(Source(name, deepcopy(raw)))


def _whole_file(name: str, message: str) -> CaseError:
    return CaseError([Problem(name, None, "", message)])


def _checked(source: Source) -> Source:
    problems = [
        Problem(source.name, source.line(path), dotted(path), message) for path, message in plain_findings(source.raw)
    ]
    if problems:
        raise CaseError(problems)
    return source


def plain_findings(value: Any, path: KeyPath = ()) -> Iterator[Finding]:
    """Values that no case has: dates, numbers that are not finite, lists upon lists, text that a terminal obeys."""
    if len(path) > DEEPEST:
        yield path[:3], "has tables or lists nested too deeply"
    elif isinstance(value, dict) and len(value) > MOST_NAMED:
        yield path, f"has {len(value):,} keys; {MOST_NAMED:,} are the most"
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _obeyed(str(key), (*path, key))
            yield from plain_findings(item, (*path, key))
    elif isinstance(value, list | tuple) and len(value) > MOST_ITEMS:
        yield path, f"has {len(value):,} items; {MOST_ITEMS:,} are the most"
    elif isinstance(value, list | tuple):
        for number, item in enumerate(value):
            yield from plain_findings(item, (*path, number))
    elif isinstance(value, str):
        yield from _obeyed(value, path)
    elif isinstance(value, int) and not -LARGEST_WHOLE <= value < LARGEST_WHOLE:
        yield path, "is too large a whole number"
    elif isinstance(value, float) and not math.isfinite(value):
        yield path, f"{value} is not a finite number"
    elif not isinstance(value, bool | int | float | str):
        yield path, f"{value} is a {type(value).__name__}; expected text or a number"


def _obeyed(text: str, path: KeyPath) -> Iterator[Finding]:
    character = obeyed(text)
    if character is not None:
        yield path, f"holds the character {code(character)}, which a terminal would obey or which turns what is read"


def _syntax_problem(message: str, text: str, name: str) -> Problem:
    """tomllib's complaint with its line; what is given twice is named, with where it was first given."""
    found = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", message)
    reason = message[: found.start()] if found else message
    line = int(found[1]) if found and found[1] else text.rstrip("\n").count("\n") + 1
    if re.match("Cannot (declare|overwrite|mutate|redefine)|Duplicate", reason):
        return _given_twice(text, name, line)
    return Problem(name, line, "", f"not TOML: {reason[:1].lower()}{reason[1:]}")


def _given_twice(text: str, name: str, line: int) -> Problem:
    seen = mentions("".join(text.splitlines(keepends=True)[:line]))
    path, where = next(reversed(_repeats(seen)), seen[-1])
    first = next(its_line for its_path, its_line in seen if its_path[: len(path)] == path)
    return Problem(name, where, dotted(path), f"given twice, first on line {first}")


def _repeats(seen: list[tuple[KeyPath, int]]) -> list[tuple[KeyPath, int]]:
    """Mentions of a path that had been mentioned before."""
    known: set[KeyPath] = set()
    found = []
    for path, line in seen:
        if path in known:
            found.append((path, line))
        known.add(path)
    return found

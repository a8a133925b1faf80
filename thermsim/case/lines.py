"""Where in a TOML text each key stands, and how a key path is written.

tomllib gives no positions, so this walks the text once more, and only when there is something to report. The
text is known to be well-formed TOML (or to be so but for a key given twice).
"""

import json
import re
from collections.abc import Iterator

from thermsim.case.errors import KeyPath

Lines = dict[KeyPath, int]

DEEPEST = 30  # tables and lists within one another

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING = re.compile(r'"""(?:\\.|[^\\])*?"{3,5}|' r"'''.*?'{3,5}|" r'"(?:\\.|[^"\\\n])*"|' r"'[^'\n]*'", re.DOTALL)
_SCALAR = re.compile(r"[^\s,\]}#]+(?: \d\d:[^\s,\]}#]+)?")


def mentions(text: str) -> list[tuple[KeyPath, int]]:
    """Every key path as the text mentions it, with its line (from 1); list items count from 0."""
    return list(_Walker(text).mentions())


def key_lines(text: str) -> Lines:
    """Line of the first mention of every key path, and of the tables that are only implied."""
    lines: Lines = {}
    for path, line in mentions(text):
        for length in range(1, min(len(path), DEEPEST) + 1):
            lines.setdefault(path[:length], line)
    return lines


class _Walker:
    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.line = 1

    def mentions(self) -> Iterator[tuple[KeyPath, int]]:
        table: KeyPath = ()
        counts: dict[KeyPath, int] = {}
        self.skip()
        while self.at < len(self.text):
            if self.text.startswith("[[", self.at):
                self.move(2)
                table = self.key(table=())
                counts[table] = counts.get(table, -1) + 1
                table = (*table, counts[table])
                yield table, self.line
                self.past("]]")
            elif self.text.startswith("[", self.at):
                self.move(1)
                table = _in_lists(self.key(table=()), counts)
                yield table, self.line
                self.past("]")
            else:
                before = self.at
                yield from self.pair(table)
                if self.at == before:  # not well-formed; only an error message is at stake
                    self.move(1)
            self.skip()

    def pair(self, table: KeyPath) -> Iterator[tuple[KeyPath, int]]:
        path = self.key(table)
        yield path, self.line
        self.past("=")
        yield from self.value(path)

    def value(self, path: KeyPath) -> Iterator[tuple[KeyPath, int]]:
        opening = self.text[self.at : self.at + 1]
        if opening not in ("[", "{"):
            if not self.take(_STRING) and not self.take(_SCALAR):
                self.move(1)
            return
        self.past(opening)
        number = 0
        while self.at < len(self.text) and self.text[self.at] not in "]}":
            if opening == "[":
                yield (*path, number), self.line
                yield from self.value((*path, number))
            else:
                yield from self.pair(path)
            number += 1
            self.skip()
            if self.text.startswith(",", self.at):
                self.past(",")
        self.move(1)

    def key(self, table: KeyPath) -> KeyPath:
        pieces: list[str] = []
        while True:
            self.skip()
            quoted = self.take(_STRING)
            pieces.append(_unquote(quoted) if quoted else self.take(_BARE))
            self.skip()
            if not self.text.startswith(".", self.at):
                return (*table, *pieces)
            self.move(1)

    def past(self, token: str) -> None:
        """Go past a token expected here, and the space behind it."""
        self.skip()
        self.move(len(token))
        self.skip()

    def skip(self) -> None:
        self.take(_SPACE)

    def take(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            return ""
        self.move(len(found[0]))
        return found[0]

    def move(self, count: int) -> None:
        self.line += self.text.count("\n", self.at, self.at + count)
        self.at += count


def _in_lists(path: KeyPath, counts: dict[KeyPath, int]) -> KeyPath:
    """[a.b] below [[a]] means the last item of a."""
    for length in range(1, len(path)):
        if path[:length] in counts:
            return (*path[:length], counts[path[:length]], *path[length:])
    return path


def _unquote(text: str) -> str:
    if text[0] == "'":
        return text[1:-1]
    try:
        return str(json.loads(text))
    except ValueError:  # an escape JSON has not, such as \U0001F600
        return text[1:-1]


def split_address(text: str) -> tuple[str, ...] | None:
    """Keys of an address such as `part.fpga.watts` or `option."air, full speed".note`; None if it is none.

    As in TOML, but spaces and other signs need no quotes; only dots do.
    """
    pieces: list[str] = []
    rest = text.strip()
    while True:
        found = re.match(r"""\s*(?:"((?:\\.|[^"\\])*)"|'([^']*)'|([^."'=]+))\s*(\.|$)""", rest)
        if found is None:
            return None
        double, single, bare, dot = found.groups()
        piece = _unquote(f'"{double}"') if double is not None else (single or bare or "").strip()
        if not piece:
            return None
        pieces.append(piece)
        if not dot:
            return tuple(pieces)
        rest = rest[found.end() :]


def dotted(path: KeyPath) -> str:
    """A key path as the user would write it; list items count from 1 in brackets."""
    pieces = ""
    for key in path:
        if isinstance(key, int):
            pieces += f"[{key + 1}]"
        else:
            pieces += f".{key}" if _BARE.fullmatch(key) else f".{json.dumps(key, ensure_ascii=False)}"
    return pieces.removeprefix(".")

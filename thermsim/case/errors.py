"""What is wrong with a case file, said so that its author can mend it."""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Self

KeyPath = tuple[str | int, ...]
Finding = tuple[KeyPath, str]  # where in the merged case, and what is wrong there


@dataclass(frozen=True)
class Problem:
    """One thing wrong: `file:line: key: message`; no line if none is known, no key for a file as a whole."""

    file: str
    line: int | None
    key: str
    message: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return ": ".join(piece for piece in (place, self.key, self.message) if piece)


class CaseError(ValueError):
    """A case that cannot be used; `problems` holds everything found, `str()` one line for each."""

    exit_status = 2

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))

    def __reduce__(self) -> tuple[type[Self], tuple[tuple[Problem, ...]]]:
        """Carry the problems, not their text, from one process to another."""
        return type(self), (self.problems,)


def nearest(word: str, known: Iterable[str]) -> str:
    """`; did you mean "watts"?` or nothing, to go behind a message about an unknown word."""
    names = list(known)
    close = [name for name in names if name.lower() == word.lower()] or get_close_matches(word, names, 1, 0.6)
    return f'; did you mean "{close[0]}"?' if close else ""

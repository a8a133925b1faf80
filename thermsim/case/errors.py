"""What is wrong with a case file, said so that its author can mend it."""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Self

from thermsim.case.names import printable, shortened

MOST_SHOWN = 30  # problems of one error
LONGEST_KEY, LONGEST_MESSAGE = 200, 600  # characters of a problem that are shown
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
        key, message = shortened(self.key, LONGEST_KEY), shortened(self.message, LONGEST_MESSAGE)
        return printable(": ".join(piece for piece in (place, key, message) if piece))


class CaseError(ValueError):
    """A case that cannot be used; `problems` holds everything found, `str()` one line for each of the first."""

    exit_status = 2

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        lines = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        more = len(self.problems) - MOST_SHOWN
        super().__init__("\n".join([*lines, f"and {more:,} more of this kind"] if more > 0 else lines))

    def __reduce__(self) -> tuple[type[Self], tuple[tuple[Problem, ...]]]:
        """Carry the problems, not their text, from one process to another."""
        return type(self), (self.problems,)


def nearest(word: str, known: Iterable[str]) -> str:
    """`; did you mean "watts"?` or nothing, to go behind a message about an unknown word."""
    names = list(known)
    close = [name for name in names if name.lower() == word.lower()] or get_close_matches(word, names, 1, 0.6)
    return f'; did you mean "{close[0]}"?' if close else ""

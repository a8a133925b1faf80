"""Where the independent pieces of a study are done: here, in processes, by any executor, or a share of them only."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass, replace
from typing import Self, TypeVar

Key = TypeVar("Key")


class WorkersLost(RuntimeError):
    """Workers ended before their work was done."""

    exit_status = 3


class ShareDone(Exception):
    """A shard's share of a study is done; the study's answer is for a call without one. No error."""

    exit_status = 0

    def __init__(self, shard: Shard) -> None:
        super().__init__(shard.told())
        self.shard = shard


@dataclass
class Shard:
    """One of several calls that share a study out: every `of`-th piece, counted through all its stages from `number`.

    Which pieces these are depends on the case and the options asked for alone, not on what is finished.
    """

    number: int  # from 1
    of: int
    done: int = 0  # pieces done by this call
    there: int = 0  # of its share, finished before
    others: int = 0  # that are not in its share
    _met: int = 0

    @classmethod
    def parse(cls, text: str) -> Self:
        """From "2/5". Raises `ValueError` that says what is expected."""
        number, slash, of = text.partition("/")
        if not (slash and number.isdecimal() and of.isdecimal() and 1 <= int(number) <= int(of)):
            raise ValueError(f'expected such as "2/5", the second of five; got "{text}"')
        return cls(int(number), int(of))

    def share(self, keys: Iterable[Key], is_there: Callable[[Key], bool]) -> list[Key]:
        """Those of this call's share that are still to be done; counts all."""
        waiting = []
        for key in keys:
            turn, self._met = self._met % self.of, self._met + 1
            if turn != self.number - 1:
                self.others += 1
            elif is_there(key):
                self.there += 1
            else:
                waiting.append(key)
        return waiting

    def told(self) -> str:
        """What was done, in words."""
        every = self.done + self.there + self.others
        before = f", {self.there} were there before" if self.there else ""
        return f"shard {self.number} of {self.of}: {self.done} of {every} pieces done here{before}"


@dataclass(frozen=True)
class Where:
    """Where pieces of work are done; what comes out does not depend on it.

    `processes`: at once on this machine (default: as many as there are cores). `executor`: any other, used in their
    place and left running; its workers need no folder in common with this process. `shard`: do a share, then raise
    `ShareDone`. `lost`: errors by which the executor tells that workers are gone; `watch` is called while nothing
    comes in, and may raise one of them.
    """

    processes: int | None = None
    executor: Executor | None = None
    shard: Shard | None = None
    lost: tuple[type[BaseException], ...] = (BrokenExecutor,)
    watch: Callable[[], None] | None = None

    def whole(self) -> Where:
        """The same without a shard: for pieces that every shard needs."""
        return replace(self, shard=None)

    def end_of_share(self) -> None:
        """Raise `ShareDone` if this is a shard: all that can be known before the others are done is shared out."""
        if self.shard is not None:
            raise ShareDone(self.shard)


HERE = Where()
IN_THIS_PROCESS = Where(processes=1)

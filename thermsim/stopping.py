"""Being asked to stop: Ctrl-C and SIGTERM end a call soon, with one line, wherever it stands."""

from __future__ import annotations

import os
import signal
import sys
import time
from _thread import interrupt_main
from threading import Timer
from types import FrameType
from typing import Any

STOPS = (signal.SIGINT, signal.SIGTERM)
REPEATED = 1.0  # s; some senders signal twice at once
AGAIN_S = 0.05  # until one that was swallowed is raised again


class Stopped(BaseException):
    """The call was asked to stop. Like `KeyboardInterrupt` nothing that catches errors catches it."""


class Stopping:
    """Turns the first SIGINT or SIGTERM into `Stopped`; whoever asks again, later, is not kept waiting."""

    def __init__(self) -> None:
        self.signal: int | None = None
        self._since = 0.0

    def listen(self) -> None:
        """Take the signals over, but not one that the caller has this process ignore."""
        for number in STOPS:
            if signal.getsignal(number) is not signal.SIG_IGN:
                signal.signal(number, self._asked)
        sys.unraisablehook = self._swallowed

    def leave(self) -> None:
        """Let the signals end the process by themselves again: all is done."""
        for number in STOPS:
            if signal.getsignal(number) == self._asked:
                signal.signal(number, signal.SIG_DFL)

    @property
    def status(self) -> int:
        """Exit status, by the custom of shells."""
        return 128 + (self.signal or signal.SIGINT)

    def _asked(self, number: int, frame: FrameType | None) -> None:
        now = time.monotonic()
        if self.signal is None:
            self.signal, self._since = number, now
            raise Stopped
        if now - self._since > REPEATED:
            os._exit(self.status)

    def _swallowed(self, told: Any) -> None:
        """Ask again soon where the interpreter could not let the first `Stopped` through, as while it tidies up."""
        if isinstance(told.exc_value, Stopped) and self.signal is not None:
            number, self.signal = self.signal, None
            again = Timer(AGAIN_S, interrupt_main, (number,))
            again.daemon = True
            again.start()
        else:
            sys.__unraisablehook__(told)

"""Notes that a correlation was used outside the range it was made for.

A correlation is never refused and never silently extrapolated: the first time one leaves its range, a note is
made. During a run, `collect_ranges` gathers the notes for the summary; elsewhere they are Python warnings.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

import numpy as np

from .basics import FloatArray

Key = tuple[str, str]


class OutOfRange(UserWarning):
    """A correlation was used outside its published range."""


_warned: set[Key] = set()
_collector: ContextVar[dict[Key, str] | None] = ContextVar("range_collector", default=None)


def check_range(
    correlation: str, quantity: str, value: float | FloatArray, low: float, high: float, unit: str = ""
) -> bool:
    """True if `value` (all of it, for an array) lies within low to high; else note it once, and False."""
    if isinstance(value, np.ndarray):
        if value.size == 0:
            return True
        least, greatest = float(value.min()), float(value.max())
        value = least if least < low else greatest
    if low <= value <= high:
        return True
    _note((correlation, quantity), value, low, high, f" {unit}" if unit else "")
    return False


def _note(key: Key, value: float, low: float, high: float, unit: str) -> None:
    collected = _collector.get()
    if key in (_warned if collected is None else collected):
        return
    correlation, quantity = key
    text = f"{correlation}: {quantity} {value:.4g}{unit} is outside {low:.4g} to {high:.4g}{unit}"
    if collected is None:
        _warned.add(key)
        warnings.warn(OutOfRange(text), stacklevel=4)
    else:
        collected[key] = text


class RangeNotes:
    """The notes of one run, read after (or during) it."""

    def __init__(self) -> None:
        self._notes: dict[Key, str] = {}

    def __iter__(self) -> Iterator[str]:
        return iter(self._notes.values())

    def __len__(self) -> int:
        return len(self._notes)


@contextmanager
def collect_ranges() -> Iterator[RangeNotes]:
    """Gather each distinct note once, instead of warning. Not shared with other threads."""
    notes = RangeNotes()
    token = _collector.set(notes._notes)
    try:
        yield notes
    finally:
        _collector.reset(token)


def forget() -> None:
    """Forget which warnings were given, so that they are given again (for tests)."""
    _warned.clear()

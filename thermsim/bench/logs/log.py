"""A log as the rest of the bench takes it: readings by channel, in SI and °C, against time since switch-on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats, Ints

Texts = Mapping[str, tuple[tuple[float, str], ...]]


@dataclass(frozen=True)
class Log:
    """Readings of one run. `mended` tells what was dropped or mended, `doubts` what looks wrong and was left alone."""

    name: str
    path: Path
    time: Floats  # s since switch-on, strictly rising, (n,)
    readings: Mapping[str, Floats]  # by channel, SI and °C, NaN where missing, (n,)
    texts: Texts  # "state" and "event": time and text at each change
    began: datetime | None  # stamp of time 0
    mended: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    room_spread: Floats | None = None  # K, standard deviation between the room's probes, where there are several
    room_probes: Floats | None = None  # °C, each of them, (probes, n)

    @property
    def interval(self) -> float:
        """Usual time from one reading to the next, s."""
        return float(np.median(np.diff(self.time))) if self.time.size > 1 else 0.0

    def between(self, start: float, end: float) -> Log:
        """The part from `start` to `end`, s, both included; times stay those since switch-on."""
        first, behind = np.searchsorted(self.time, start, "left"), np.searchsorted(self.time, end, "right")
        kept = slice(int(first), max(int(first), int(behind)))
        return replace(
            self,
            time=self.time[kept],
            readings={channel: values[kept] for channel, values in self.readings.items()},
            texts={channel: _texts_between(texts, start, end) for channel, texts in self.texts.items()},
            room_spread=None if self.room_spread is None else self.room_spread[kept],
            room_probes=None if self.room_probes is None else self.room_probes[:, kept],
        )

    def averaged(self, step: float) -> Log:
        """Means over steps of this many seconds from switch-on, at the mean time of their readings.

        A step without a reading is left out; missing readings count for nothing. Raises `ValueError` unless step > 0.
        """
        if not step > 0:
            raise ValueError(f"a step of {step:g} s has no readings to average")
        if self.time.size == 0:
            return self
        bins, rooms = np.floor(self.time / step).astype(np.int64), self.room_probes
        starts = np.concatenate(([0], np.flatnonzero(np.diff(bins)) + 1))
        return replace(
            self,
            time=group_means(self.time, starts),
            readings={channel: group_means(values, starts) for channel, values in self.readings.items()},
            room_spread=None if self.room_spread is None else group_means(self.room_spread, starts),
            room_probes=None if rooms is None else np.array([group_means(probe, starts) for probe in rooms]),
        )


def group_means(values: Floats, starts: Ints) -> Floats:
    """Means of the readings from each start to the next, missing ones left out; NaN where all are missing."""
    there = np.isfinite(values)
    sums = np.add.reduceat(np.where(there, values, 0.0), starts)
    counts = np.add.reduceat(there.astype(float), starts)
    means: Floats = np.divide(sums, counts, out=np.full(sums.shape, np.nan), where=counts > 0)
    return means


def _texts_between(texts: tuple[tuple[float, str], ...], start: float, end: float) -> tuple[tuple[float, str], ...]:
    """Changes between two times, and what was in force at the first of them."""
    before = [text for text in texts if text[0] <= start]
    return (*before[-1:], *(text for text in texts if start < text[0] <= end))


def told(log: Log) -> dict[str, Any]:
    """What a log holds, as plain facts: span, readings, interval, columns, what was mended and what looks wrong."""
    return {
        "run": log.name,
        "file": log.path.name,
        "began": None if log.began is None else log.began.isoformat(sep=" ", timespec="seconds"),
        "span_s": float(log.time[-1] - log.time[0]) if log.time.size else 0.0,
        "readings": int(log.time.size),
        "interval_s": log.interval,
        "columns": {
            channel: {"readings": int(np.isfinite(values).sum()), "missing": int((~np.isfinite(values)).sum())}
            for channel, values in log.readings.items()
        },
        "texts": {channel: len(texts) for channel, texts in log.texts.items()},
        "mended": list(log.mended),
        "doubts": list(log.doubts),
    }

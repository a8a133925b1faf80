"""A log's time brought in order: clock changes, midnight, rows out of place, the same time twice, restarts."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from thermsim.bench.logs.opening import complaint
from thermsim.bench.logs.rows import Rows, time_header
from thermsim.bench.logs.scan import counted
from thermsim.model.arrays import Floats, Ints

HOUR, DAY = 3600.0, 86400.0
SLACK = 1.5  # usual intervals that a step may differ from an hour and still be a clock change
LATE_SHARE, LATE_ROWS = 0.01, 20  # rows out of place that are put right; with more the log is refused
TWICE_SHARE, TWICE_ROWS = 0.01, 3  # times given twice with other readings that are averaged
FARTHEST_BACK = DAY  # a clock that falls back further was set, and the log cannot be put right
GAP = 5.0  # usual intervals without a reading that are told


@dataclass
class Ordered:
    """Times strictly rising, with what was done. `rows` numbers the rows kept, `groups` where each time starts."""

    times: Floats
    rows: Ints
    groups: Ints | None  # first of each group of rows with one time, where any is averaged
    mended: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)


def ordered(path: Path, rows: Rows) -> Ordered:
    """The order of a log's rows by time. Raises `CaseError` where it cannot be told."""
    times = rows.times.copy()
    mended: list[str] = []
    if rows.clock.kind in ("of day", "stamp"):
        _mend_clock(rows, times, mended)
    order = _sorted(path, rows, times, mended)
    times = times[order]
    rows_kept, groups = _once(path, rows, times, order, mended)
    if groups is not None:
        times = times[groups] if rows_kept is order else times
    found = Ordered(times, rows_kept, groups, mended)
    return found

"""A log's time brought in order: clock changes, midnight, rows out of place, the same time twice, restarts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np

from thermsim.bench.logs.opening import complaint
from thermsim.bench.logs.rows import Rows, time_header
from thermsim.bench.logs.scan import counted
from thermsim.model.arrays import Floats, Ints
from thermsim.units import format_quantity

HOUR, DAY = 3600.0, 86400.0
SLACK = 1.5  # usual intervals that a step may differ from an hour and still be a clock change
LONGEST_INTERVAL = 600.0  # s between readings for which an hour more or less is told from a gap
LATE_SHARE, LATE_ROWS = 0.01, 20  # rows out of place that are put right; with more the log is refused
TWICE_SHARE, TWICE_ROWS = 0.01, 3  # times with two different rows that are averaged; likewise
FARTHEST_BACK = DAY  # a clock that falls back further was set
GAP = 5.0  # usual intervals without a reading that are told


@dataclass(frozen=True)
class Ordered:
    """Times strictly rising, s as the clock reads them, and how the rows give them."""

    times: Floats  # (m,)
    order: Ints | None  # of the rows, where it is not that of the file, (n,)
    starts: Ints | None  # of each group of ordered rows with one time, where there are any, (m,)
    lines: Ints  # of the (first) row of each time, (m,)
    row_times: Floats  # in the order of the file, (n,)
    mended: tuple[str, ...]
    doubts: tuple[str, ...]


def ordered(path: Path, rows: Rows) -> Ordered:
    """The order of a log's rows by time. Raises `CaseError` where it cannot be told."""
    times, mended = rows.times.copy(), []
    if rows.clock.kind in ("of day", "stamp"):
        mended += _mend_clock(rows, times)
    order, remark = _order(path, rows, times)
    mended += [remark] if remark else []
    row_times = times
    times = times if order is None else times[order]
    lines = rows.lines if order is None else rows.lines[order]
    starts = np.concatenate(([0], np.flatnonzero(np.diff(times)) + 1))
    if starts.size == times.size:
        return Ordered(times, order, None, lines, row_times, tuple(mended), _gaps(times, lines))
    mended.append(_twice(path, rows, order, lines, starts))
    return Ordered(
        times[starts], order, starts, lines[starts], row_times, tuple(mended), _gaps(times[starts], lines[starts])
    )


def _mend_clock(rows: Rows, times: Floats) -> list[str]:
    """Midnight in times of day; an hour back, or forward on a Sunday night, in local times: mended in place."""
    steps = np.diff(times)
    usual = _usual(steps)
    found: list[str] = []
    if usual is None or usual > LONGEST_INTERVAL:
        return found
    near = SLACK * usual
    moves: list[tuple[int, float]] = []
    for at in map(int, np.flatnonzero((steps < 0) | (np.abs(steps - HOUR - usual) <= near))):
        step, line = steps[at], rows.lines[at + 1]
        if rows.clock.kind == "of day" and abs(step + DAY - usual) <= max(10 * usual, LONGEST_INTERVAL):
            moves.append((at + 1, DAY))
            found.append(f"the time of day passes midnight at line {line}: a day added from there")
        elif abs(step + HOUR - usual) <= near:
            moves.append((at + 1, HOUR))
            found.append(f"the clock goes back by an hour at line {line}: an hour added from there")
        elif step > 0 and rows.clock.kind == "stamp" and _may_go_forward(times[at], usual):
            moves.append((at + 1, -HOUR))
            found.append(f"the clock goes forward by an hour at line {line}: an hour taken off from there")
    for first, by in moves:
        times[first:] += by
    return found


def _may_go_forward(before: float, usual: float) -> bool:
    """Whether the next reading would have come at a full hour in a Sunday's first four: summer time begins then."""
    after = datetime(1970, 1, 1) + timedelta(seconds=float(before + usual))
    past_hour = (after.minute * 60 + after.second) % HOUR
    return after.weekday() == 6 and after.hour < 4 and past_hour <= usual


def _usual(steps: Floats) -> float | None:
    rising = steps[steps > 0]
    return float(np.median(rising)) if rising.size else None


def _order(path: Path, rows: Rows, times: Floats) -> tuple[Ints | None, str | None]:
    """The rows by time (None: as they are), and what was done."""
    steps = np.diff(times)
    if not (steps < 0).any():
        return None, None
    if (steps <= 0).all():
        return np.arange(times.size)[::-1], "the newest row comes first: turned round"
    late = np.flatnonzero(times < np.maximum.accumulate(times))
    line = int(rows.lines[late[0]])
    _refuse_restart(path, rows, times, int(late[0]))
    order = np.argsort(times, kind="stable")
    if late.size <= max(LATE_ROWS, LATE_SHARE * times.size):
        return order, f"{counted(late.size, 'row')} out of place, first line {line}: sorted by time"
    cuts = np.concatenate(([0], np.flatnonzero(steps < 0) + 1, [times.size]))
    parts = sorted((times[a], times[b - 1]) for a, b in pairwise(cuts))
    if any(end >= start for (_, end), (start, _) in pairwise(parts)):
        every = counted(late.size, "row")
        message = f"goes back in time, and {every} are before others above: two runs in one log? Cut it there"
        raise complaint(path, message, line, time_header(rows.shape))
    return order, f"{counted(len(parts), 'part')} of the log not in the order of time, first line {line}: sorted"


def _refuse_restart(path: Path, rows: Rows, times: Floats, late: int) -> None:
    """A time that falls back to the log's first, or a date that falls back by days, is another run or a set clock."""
    line, header = int(rows.lines[late]), time_header(rows.shape)
    back = float(times[:late].max() - times[late])
    if rows.clock.kind in ("elapsed", "of day"):
        alone = late + 1 < times.size and times[late + 1] >= times[:late].max()
        if times[late] <= times[0] + 2 * (_usual(np.diff(times)) or 0.0) and not alone:
            message = f"falls back by {format_quantity(back, 'time')} to where it began: the logger was started again"
            raise complaint(path, f"{message}; cut the log there", line, header)
    elif back > FARTHEST_BACK:
        message = f"falls back by {format_quantity(back, 'time')}: the logger's clock was set; cut the log there"
        raise complaint(path, message, line, header)


def _twice(path: Path, rows: Rows, order: Ints | None, lines: Ints, starts: Ints) -> str:
    """What is said of rows with the same time: the same readings, or others of which the mean is taken."""
    firsts = np.zeros(lines.size, dtype=bool)
    firsts[starts] = True
    again = np.flatnonzero(~firsts)
    own, before = (again, again - 1) if order is None else (order[again], order[again - 1])
    other = np.zeros(again.size, dtype=bool)
    for values in rows.values:
        one, two = values[own], values[before]
        other |= (one != two) & ~(np.isnan(one) & np.isnan(two))
    if not other.any():
        return f"{counted(again.size, 'row')} given twice, first line {lines[again[0]]}: dropped"
    line, count = int(lines[again[other][0]]), int(other.sum())
    if count > max(TWICE_ROWS, TWICE_SHARE * lines.size):
        message = f"is the time of the row before, with other readings; so with {counted(count, 'row')}"
        hint = "" if not _to_the_minute(rows.times) else ": times go to the minute only, export them with seconds"
        raise complaint(path, message + hint, line, time_header(rows.shape))
    same = again.size - count
    dropped = f"; {counted(same, 'row')} given twice: dropped" if same else ""
    return f"{counted(count, 'row')} with the time of another and other readings, first line {line}: averaged{dropped}"


def _to_the_minute(times: Floats) -> bool:
    return bool((np.remainder(times, 60.0) == 0).all())


def _gaps(times: Floats, lines: Ints) -> tuple[str, ...]:
    steps = np.diff(times)
    usual = _usual(steps)
    gaps = np.flatnonzero(steps > GAP * usual) if usual else np.array([], dtype=np.int64)
    if not gaps.size:
        return ()
    longest = gaps[np.argmax(steps[gaps])]
    length = format_quantity(float(steps[longest]), "time")
    if gaps.size == 1:
        return (f"no readings for {length} after line {lines[longest]}",)
    return (f"{gaps.size:,} gaps without readings, the longest {length} after line {lines[longest]}",)

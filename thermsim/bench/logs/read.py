"""A log from its file: read, put in order, looked over."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from pathlib import Path

import numpy as np

from thermsim.bench.logs.columns import Column
from thermsim.bench.logs.log import Log, group_means
from thermsim.bench.logs.look import impossible, look_over
from thermsim.bench.logs.opening import complaint
from thermsim.bench.logs.order import Ordered, ordered
from thermsim.bench.logs.rows import Rows, rows_of
from thermsim.bench.logs.scan import counted
from thermsim.bench.logs.shape import quoted
from thermsim.bench.logs.times import UnclearTimeError
from thermsim.case.benching import Layout
from thermsim.case.channels import is_temperature
from thermsim.model.arrays import Floats

WRONG_UNIT_DEGC = 250.0  # a column whose middle is hotter is in another unit
ROOM = "room"


def read_log(
    path: Path, layout: Layout, name: str | None = None, on_at: str | None = None,
    rated: Mapping[str, float] | None = None, elsewhere: Container[str] = (),
) -> Log:  # fmt: skip
    """Read a log whose columns `layout` names; readings before switch-on are left out.

    `rated`: rated speeds, rev/s, by channel, for columns in revolutions. `elsewhere`: channels of what did not stand on
    the bench; that their columns are missing is not told. Raises `CaseError` with file, line and column
    for what cannot be read or could be read in two ways.
    """
    rows = rows_of(path, layout, dict(rated or {}))
    order = ordered(path, rows)
    zero, kept = _switched_on(path, rows, order, on_at)
    time = order.times[kept:] - zero
    mended, doubts = [*rows.mended, *order.mended], [*order.doubts]
    if kept:
        mended.append(f"{counted(kept, 'reading')} before switch-on: left out")
    series = []
    for number, column in enumerate(rows.columns):
        values = _in_order(rows.values[number], order)[kept:]
        series.append((column, _converted(path, rows, column, values, mended, doubts)))
    look_over(time, order.lines[kept:], series, mended, doubts)
    mended += _columns_left_out(rows, [header for header, channel in layout.columns.items() if channel in elsewhere])
    readings = {column.channel: values for column, values in series if column.channel != ROOM}
    rooms = [values for column, values in series if column.channel == ROOM]
    spread = None
    if rooms:
        readings[ROOM], spread = _room(rooms)
    return Log(
        name or path.stem, path, time, readings, _texts(rows, order, zero), rows.clock.stamp(zero), tuple(mended),
        tuple(doubts), spread, np.array(rooms) if len(rooms) > 1 else None,
    )  # fmt: skip


def _switched_on(path: Path, rows: Rows, order: Ordered, on_at: str | None) -> tuple[float, int]:
    """Time of switch-on as the clock reads it, and the number of readings before it."""
    if on_at is None:
        return float(order.times[0]), 0
    try:
        zero = rows.clock.moment(on_at, float(order.times[0]))
    except UnclearTimeError as error:
        raise complaint(path, f"on_at: {error}") from None
    if not order.times[0] <= zero <= order.times[-1]:
        raise complaint(path, f'on_at: "{on_at}" is {"before" if zero < order.times[0] else "after"} the log')
    return zero, int(np.searchsorted(order.times, zero, "left"))


def _in_order(values: Floats, order: Ordered) -> Floats:
    values = values if order.order is None else values[order.order]
    return values if order.starts is None else group_means(values, order.starts)


def _converted(path: Path, rows: Rows, column: Column, values: Floats, mended: list[str], doubts: list[str]) -> Floats:
    """A column in SI and °C, without what cannot be."""
    assert column.convert is not None
    values = column.convert(values)
    gone = impossible(column.channel, values)
    middle = float(np.median(values[np.isfinite(values)])) if np.isfinite(values).any() else 0.0
    if is_temperature(column.channel) and middle > WRONG_UNIT_DEGC:
        message = f"reads {middle:.0f} °C for the most part: say its unit in `units`, or leave it out"
        raise complaint(path, message, rows.shape.first, column.header)
    if gone.any():
        worst = float(values[gone][0])
        values[gone] = np.nan
        count = counted(int(gone.sum()), "reading")
        mended.append(f'column "{column.header}": {count} that cannot be ({worst:.4g}): dropped')
    if not np.isfinite(values).any():
        doubts.append(f'column "{column.header}" holds no reading')
    return values


def _quoted(headers: Iterable[str]) -> str:
    return ", ".join(f'"{header}"' for header in headers)


def _columns_left_out(rows: Rows, expected: list[str]) -> list[str]:
    missing = [header for header in rows.shape.missing if header not in expected]
    told = {"not in this log": missing, "of no channel in the case, left out": rows.shape.unmapped}
    return [f"columns {what}: {', '.join(map(quoted, headers))}" for what, headers in told.items() if headers]


def _room(rooms: list[Floats]) -> tuple[Floats, Floats | None]:
    """Mean of the room's probes, and the standard deviation between them, NaN where fewer than two tell."""
    if len(rooms) == 1:
        return rooms[0], None
    count, total = np.zeros(rooms[0].size), np.zeros(rooms[0].size)
    for values in rooms:
        there = np.isfinite(values)
        count += there
        total += np.where(there, values, 0.0)
    mean = np.divide(total, count, out=np.full(total.size, np.nan), where=count > 0)
    square = np.zeros(total.size)
    for values in rooms:
        square += np.where(np.isfinite(values), (values - mean) ** 2, 0.0)
    variance = np.divide(square, count - 1, out=np.full(total.size, np.nan), where=count > 1)
    return mean, np.sqrt(variance)


def _texts(rows: Rows, order: Ordered, zero: float) -> dict[str, tuple[tuple[float, str], ...]]:
    """Changes of words against time since switch-on; the state in force at switch-on stands at 0."""
    found = {}
    for channel, words in rows.words.items():
        changes = sorted((float(order.row_times[row]) - zero, text) for row, text in words)
        before = [text for at, text in changes if at <= 0] if channel == "state" else []
        kept = [change for change in changes if change[1] and (change[0] > 0 or (change[0] == 0 and not before))]
        found[channel] = (*((0.0, text) for text in before[-1:]), *kept)
    return found

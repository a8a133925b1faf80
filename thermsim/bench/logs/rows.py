"""The rows of a log, streamed into arrays of numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np

from thermsim.bench.logs.cells import NotANumberError, TwoSignsError, decimal_of, no_readings, numbers, unit_behind
from thermsim.bench.logs.columns import Column, Rated
from thermsim.bench.logs.opening import complaint, encoding_of, lines_of
from thermsim.bench.logs.scan import Row, Scan, counted
from thermsim.bench.logs.shape import HEAD_LINES, Shape, shape_of
from thermsim.bench.logs.times import Clock, UnclearTimeError, clock_of
from thermsim.case.benching import Layout
from thermsim.case.names import printable
from thermsim.model.arrays import Floats, Ints
from thermsim.model.available import available_bytes
from thermsim.model.memory import size_text
from thermsim.units import is_same

BLOCK = 4096  # rows that are held as text at a time
MOST_ROWS = 5_000_000
_READ_AT_ONCE = 1 << 24  # bytes
NUMBER_BYTES = 8
COPIES = 4  # of all numbers, while a log is put in order and looked over


@dataclass(frozen=True)
class Rows:
    """A log as written, in the order of its lines."""

    shape: Shape
    clock: Clock
    columns: tuple[Column, ...]  # those of numbers
    times: Floats  # s as `clock` reads them, (n,)
    lines: Ints  # (n,)
    values: Floats  # of `columns`, in the log's own units, NaN where missing, (columns, n)
    words: dict[str, list[tuple[int, str]]]  # of the channels of words: row and text where it changes
    mended: tuple[str, ...]


def rows_of(path: Path, layout: Layout, rated: Rated) -> Rows:
    """Read a log's rows. Raises `CaseError`. Memory is that of the numbers and of some thousand rows of text."""
    encoding = encoding_of(path, layout.encoding)
    shape = shape_of(path, list(islice(lines_of(path, encoding), HEAD_LINES)), layout, rated)
    scan = Scan(path, shape, lines_of(path, encoding))
    rows = iter(scan)
    block = list(islice(rows, BLOCK))
    if not block:
        raise complaint(path, "has no readings under its headers", shape.before)
    clock, decimal = _ways(path, layout, shape, block)
    most = _most_rows(path)
    _refuse_if_too_large(path, most, len(shape.columns) + 2)
    filling = _Filling(path, shape, clock, decimal, layout.decimal is not None, most)
    while block:
        filling.take(block)
        block = list(islice(rows, BLOCK))
    mended = [*scan.told(), *filling.told()]
    if shape.first > 1:
        mended.insert(0, f"{counted(shape.first - 1, 'line')} before the headers: skipped")
    n = filling.count
    return Rows(
        shape, clock, filling.columns, filling.times[:n], filling.lines[:n], filling.values[:, :n], filling.words,
        tuple(mended),
    )  # fmt: skip


def _most_rows(path: Path) -> int:
    """No fewer rows than the log has, without decoding it."""
    count = 1
    with path.open("rb") as file:
        while piece := file.read(_READ_AT_ONCE):
            count += max(piece.count(b"\n"), piece.count(b"\r"))
    if count > MOST_ROWS:
        raise complaint(path, f"has more than {MOST_ROWS:,} rows; store fewer readings, or cut it")
    return count


def _refuse_if_too_large(path: Path, rows: int, columns: int) -> None:
    needed, there = float(NUMBER_BYTES * rows * columns), available_bytes() / COPIES
    if needed > there:
        message = f"{rows:,} rows of {columns:,} columns need {size_text(COPIES * needed)} of memory"
        raise complaint(path, f"{message}, and {size_text(COPIES * there)} is available; map fewer columns, or cut it")


def _ways(path: Path, layout: Layout, shape: Shape, rows: list[Row]) -> tuple[Clock, str]:
    """How times and decimals are written, by the first rows."""
    decimal: str = layout.decimal or "."
    if layout.decimal is None:
        kept = [*(column.number for column in shape.columns if column.convert is not None), *shape.times]
        try:
            decimal = decimal_of(cells[number] for _, cells in rows for number in kept)
        except TwoSignsError as error:
            line, number = next(
                (line, number) for line, cells in rows for number in kept if cells[number].strip() == error.cell
            )
            raise complaint(path, str(error), line, shape.headers[number]) from None
    line, cells = rows[0]
    header = time_header(shape)
    try:
        return clock_of(_stamp(cells, shape.times), header, shape.time_unit, layout.time_format, decimal), decimal
    except UnclearTimeError as error:
        raise complaint(path, str(error), line, header) from None


def time_header(shape: Shape) -> str:
    """The header of the time, or those of date and time."""
    return " ".join(shape.headers[number] for number in shape.times)


def _stamp(cells: Sequence[str], times: tuple[int, ...]) -> str:
    return cells[times[0]] if len(times) == 1 else " ".join(cells[number].strip() for number in times)


class _Filling:
    """Arrays that blocks of rows are written to."""

    def __init__(self, path: Path, shape: Shape, clock: Clock, decimal: str, stated: bool, most: int) -> None:
        self.path, self.shape, self.clock, self.decimal, self.stated = path, shape, clock, decimal, stated
        self.columns = tuple(column for column in shape.columns if column.convert is not None)
        self.worded = [column for column in shape.columns if column.convert is None]
        self.times = np.empty(most)
        self.lines = np.empty(most, dtype=np.int64)
        self.values = np.empty((len(self.columns), most))
        self.words: dict[str, list[tuple[int, str]]] = {column.channel: [] for column in self.worded}
        self.count = 0
        self._absent: dict[str, tuple[int, int, str]] = {}  # by header: how many, first line, what stood there

    def take(self, rows: list[Row]) -> None:
        """Write a block of rows."""
        lines = [line for line, _ in rows]
        here = slice(self.count, self.count + len(rows))
        self.lines[here] = lines
        stamps = [_stamp(cells, self.shape.times) for _, cells in rows]
        try:
            self.times[here] = self.clock.seconds(stamps)
        except NotANumberError as error:
            message = f'"{stamps[error.index].strip()}" is no time such as those before it'
            raise complaint(self.path, message, lines[error.index], time_header(self.shape)) from None
        for number, column in enumerate(self.columns):
            self.values[number, here] = self._numbers(column, lines, [cells[column.number] for _, cells in rows])
        for column in self.worded:
            self._take_words(column, [cells[column.number].strip() for _, cells in rows])
        self.count += len(rows)

    def _numbers(self, column: Column, lines: list[int], cells: list[str]) -> Floats:
        try:
            values, absent = numbers(cells, self.decimal, self.stated, column.unit)
        except NotANumberError as error:
            text = cells[error.index].strip()
            raise complaint(self.path, self._not_a_number(text, column), lines[error.index], column.header) from None
        absent |= {int(index): cells[index].strip() for index in np.flatnonzero(no_readings(values))}
        if absent:
            first = min(absent)
            count, line, text = self._absent.get(column.header, (0, lines[first], absent[first]))
            self._absent[column.header] = (count + len(absent), line, text)
            values[list(absent)] = np.nan
        return values

    def _not_a_number(self, text: str, column: Column) -> str:
        told = unit_behind(text)
        if told and column.unit and not is_same(told, column.unit):
            return f'"{text}" is in {told}, its column in {column.unit}'
        other, name = (",", "comma") if self.decimal == "." else (".", "point")
        if other in text and text.translate(str.maketrans("", "", "+-.,")).isdecimal():
            if self.stated:
                return f'"{text}" is not a number with decimal = "{self.decimal}"'
            return f'"{text}" has a {name}, which numbers before it have not: say decimal = "." or decimal = ","'
        return f'"{text}" is not a number'

    def _take_words(self, column: Column, cells: list[str]) -> None:
        """States last until the next; an event is a word where none, or another, stood before."""
        kept = self.words[column.channel]
        for row, cell in enumerate(cells, start=self.count):
            text = printable(cell)
            if text != (kept[-1][1] if kept else "") and (text or column.channel == "event"):
                kept.append((row, text))

    def told(self) -> list[str]:
        """What is missing, in words."""
        return [
            f'column "{header}": {counted(count, "cell")} without a reading ("{text}"), first line {line}: missing'
            for header, (count, line, text) in self._absent.items()
        ]

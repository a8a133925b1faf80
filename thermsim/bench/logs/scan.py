"""The rows of a log behind its headers: which lines are rows, which are left out, which must not be there."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from thermsim.bench.logs.headers import plain
from thermsim.bench.logs.opening import complaint
from thermsim.bench.logs.shape import Shape

TORN_SHARE, TORN_ROWS = 0.01, 3  # rows with too few cells that are left out; with more the log is refused

Row = tuple[int, list[str]]  # line, cells


class Scan:
    """Rows that hold all that is read; counts what it leaves out. Iterate once, then ask `told`."""

    def __init__(self, path: Path, shape: Shape, lines: Iterator[str]) -> None:
        self.path, self.shape = path, shape
        self.lines = self._watched(islice(lines, shape.before, None))
        self.width = len(shape.headers)
        self.needed = max([*shape.times, *(column.number for column in shape.columns)]) + 1
        self.count = 0
        self.torn: list[tuple[int, int]] = []  # line and number of cells
        self.repeated: list[int] = []  # lines of headers
        self.remarks: list[int] = []
        self.cut = 0  # line of a last row that ends within a cell
        self._last = ""  # the line read last

    def _watched(self, lines: Iterator[str]) -> Iterator[str]:
        for line in lines:
            self._last = line
            yield line

    def __iter__(self) -> Iterator[Row]:
        held: Row | None = None
        shortest = width = 0  # of the last cell: of all rows before the one held, and of it
        for row in self._rows():
            if held is not None:
                self.count += 1
                yield held
                shortest = min(shortest, width) if shortest else width
            held, width = row, len(row[1][-1].strip())
        if held is None:
            return
        if not self._last.endswith(("\n", "\r")) and width < shortest and len(held[1]) == self.needed:
            self.cut = held[0]
            return
        self.count += 1
        yield held

    def _rows(self) -> Iterator[Row]:
        reader = csv.reader(self.lines, delimiter=self.shape.delimiter)
        before, end = self.shape.before, 0
        while True:
            line = before + end + 1
            try:
                cells = next(reader, None)
            except csv.Error as error:
                raise complaint(
                    self.path, f"cannot be taken apart ({error}); is a quotation mark open?", line
                ) from None
            if cells is None:
                return
            end = reader.line_num
            if before + end > line:
                raise complaint(self.path, "has a quotation mark that is not closed on its line", line)
            if self._is_row(line, cells):
                yield line, cells

    def _is_row(self, line: int, cells: list[str]) -> bool:
        """Whether a line is a row with all that is read. Raises `CaseError` for one with more cells than headers."""
        if not cells or not "".join(cells).strip():
            return False
        first = cells[0].lstrip()
        if first.startswith("#"):
            self.remarks.append(line)
        elif self._is(cells, self.shape.headers):
            self.repeated.append(line)
        elif self.repeated and self.shape.units_row and self._is(cells, self.shape.units_row):
            pass
        elif len(cells) > self.width and any(cell.strip() for cell in cells[self.width :]):
            raise complaint(self.path, f"has {len(cells)} cells, the headers are {self.width}{self._hint()}", line)
        elif len(cells) >= self.width or len(cells) > self.needed:
            return True
        else:
            self.torn.append((line, len(cells)))
        return False

    def _is(self, cells: list[str], others: tuple[str, ...]) -> bool:
        """Whether a row is one that was seen above, of headers or units."""
        same = len(cells) >= len(others) and cells[0].strip('\ufeff #"') == others[0].strip('"')
        return same and tuple(map(plain, cells[: len(others)])) == others

    def _hint(self) -> str:
        if self.shape.delimiter != ",":
            return ""
        return "; numbers with decimal commas need quotation marks, or another delimiter"

    def told(self) -> list[str]:
        """What was left out, in words. Raises `CaseError` where too many rows are torn."""
        found = []
        torn = self.torn
        ends_torn = bool(torn) and len(torn) == 1 and not self._last.endswith(("\n", "\r"))
        if ends_torn or self.cut:
            found.append(f"the last row, line {self.cut or torn[0][0]}, is cut off: dropped")
        elif torn:
            line, cells = torn[0]
            if len(torn) > max(TORN_ROWS, TORN_SHARE * self.count):
                message = f"has {cells} cells, the headers are {self.width}; so with {len(torn)} rows"
                raise complaint(self.path, message, line)
            found.append(f"{counted(len(torn), 'row')} with too few cells, first line {line}: dropped")
        if self.repeated:
            found.append(
                f"headers once more in {counted(len(self.repeated), 'line')}, first line {self.repeated[0]}: skipped"
            )
        if self.remarks:
            found.append(f"{counted(len(self.remarks), 'remark')} between rows, first line {self.remarks[0]}: skipped")
        return found


def counted(number: int, noun: str) -> str:
    """A number of things, "1 row" or "1,200 rows"."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"

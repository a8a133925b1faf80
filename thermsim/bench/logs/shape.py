"""The shape of a log: its delimiter, the row of headers behind the preamble, and which column is which channel."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from thermsim.bench.logs.columns import Column, Rated, column, time_unit
from thermsim.bench.logs.headers import matching, plain, take_apart, unit_of
from thermsim.bench.logs.opening import complaint
from thermsim.case.benching import Layout
from thermsim.case.channels import IGNORE, MANY
from thermsim.case.errors import nearest

HEAD_LINES = 300  # the headers are among them
SIGNS = {",": ",", ";": ";", "tab": "\t"}
ONE_A_ROW = 3  # rows with the name of one channel, from which on a log holds one reading a row
NEARLY = 0.75  # of 1, the likeness of two headers that are one misspelt
_SHOWN = 8  # headers in a message


@dataclass(frozen=True)
class Shape:
    """What the top of a log tells. `before`: lines up to the last of the headers, or of their row of units."""

    delimiter: str
    first: int  # line of the headers
    before: int
    headers: tuple[str, ...]
    units_row: tuple[str, ...]
    times: tuple[int, ...]  # numbers of the columns of the time
    time_unit: str | None
    columns: tuple[Column, ...]
    missing: tuple[str, ...]  # headers of the case that this log has not
    unmapped: tuple[str, ...]  # headers of the log that the case does not know


def shape_of(path: Path, head: Sequence[str], layout: Layout, rated: Rated) -> Shape:
    """The shape by a log's first lines. Raises `CaseError`."""
    wanted = [header for header, channel in layout.columns.items() if channel != IGNORE]
    delimiter, first, behind, cells = _headers(path, head, layout, wanted)
    headers = tuple(plain(cell) for cell in cells)
    line = first + 1
    under = _cells(head[behind:], delimiter)[0] if behind < len(head) else []
    units_row = tuple(plain(cell) for cell in under) if _are_units(under) else ()
    times = _times(path, line, headers, layout)
    found: dict[int, str] = {}
    for header, channel in layout.columns.items():
        numbers = matching(header, headers)
        if len(numbers) > 1:
            raise complaint(path, _which(headers, numbers), line, header)
        for number in numbers:
            if number in times:
                raise complaint(path, "is the column of the time; say `time` if another is", line, header)
            found[number] = channel
    _once(path, line, headers, found)
    columns = tuple(
        column(path, line, headers, units_row, layout, rated, number, channel)
        for number, channel in sorted(found.items()) if channel != IGNORE
    )  # fmt: skip
    unmapped = tuple(h for number, h in enumerate(headers) if h and number not in found and number not in times)
    missing = tuple(header for header in wanted if not matching(header, headers))
    for header in missing:
        meant = _nearly(header, unmapped)
        if meant:
            message = f'is not in this log; did you mean "{meant}"? If not, map that to its channel or to "ignore"'
            raise complaint(path, message, line, header)
    unit_of_time = time_unit(path, line, headers, units_row, layout, times)
    before = behind + (1 if units_row else 0)
    return Shape(delimiter, line, before, headers, units_row, times, unit_of_time, columns, missing, unmapped)


def _nearly(header: str, others: Sequence[str]) -> str | None:
    """The header that this one is but for case or a letter."""
    names = {take_apart(other).name.casefold(): other for other in others}
    close = get_close_matches(take_apart(header).name.casefold(), names, 1, NEARLY)
    return names[close[0]] if close else None


def _which(headers: Sequence[str], numbers: Sequence[int]) -> str:
    """What is said where several headers may be meant."""
    told = list(dict.fromkeys(headers[number] for number in numbers))
    if len(told) == 1:
        return f"heads {len(numbers)} columns; give each its own header"
    return f"may be {' or '.join(map(quoted, told))}: name it with its unit"


def _cells(lines: Sequence[str], delimiter: str) -> tuple[list[str], int]:
    """Cells of the first row of these lines, and how many lines it takes."""
    reader = csv.reader(lines, delimiter=delimiter)
    try:
        row = next(reader, [])
    except csv.Error:
        return [], 1
    return [cell.strip() for cell in row], reader.line_num


def _headers(path: Path, head: Sequence[str], layout: Layout, wanted: list[str]) -> tuple[str, int, int, list[str]]:
    """Delimiter, line numbers (from 0) of the row that holds most of the wanted headers and of the next, its cells."""
    delimiters = [SIGNS[layout.delimiter]] if layout.delimiter else list(SIGNS.values())
    _refuse_one_a_row(path, head, delimiters, wanted)
    targets = {plain(header) for header in (*wanted, *layout.time)}
    starts = tuple(targets)
    best: tuple[int, int, str, int, int, list[str]] = (0, 0, "", 0, 0, [])
    for delimiter in delimiters:
        for number in range(len(head)):
            if not head[number].strip():
                continue
            cells, taken = _cells(head[number : number + 5], delimiter)
            while cells and not cells[-1]:
                cells.pop()
            here = {header for cell in cells if (header := plain(cell)).startswith(starts)}
            score = len(targets & (here | {take_apart(cell).name for cell in here}))
            if (score, len(cells)) > best[:2] and score:
                best = (score, len(cells), delimiter, number, number + taken, cells)
    if best[0]:
        return best[2:]
    if not wanted:
        message = 'the case says what no column is: columns = { "HEADER" = "part.NAME" } in [bench]'
    else:
        message = f"no row of its first {len(head)} lines has a header that the case knows"
    raise complaint(path, f"{message}; {_likely(head, delimiters)}")


def _refuse_one_a_row(path: Path, head: Sequence[str], delimiters: list[str], wanted: list[str]) -> None:
    """Raises `CaseError` for rows of time, channel and value: cells of one column are what headers should be."""
    targets = {name for header in wanted for name in (plain(header), take_apart(header).name)}
    for delimiter in delimiters:
        rows = [(line, _cells([text], delimiter)[0]) for line, text in enumerate(head, 1) if text.strip()]
        at = [
            (line, places[0]) for line, cells in rows
            if len(places := [k for k, cell in enumerate(cells) if cell in targets]) == 1
        ]  # fmt: skip
        number = at[0][1] if at else 0
        if len(at) < ONE_A_ROW or any(other != number for _, other in at):
            continue
        if 2 * len(at) > sum(line >= at[0][0] for line, _ in rows):
            names = list(dict.fromkeys(quoted(cells[number]) for line, cells in rows if (line, number) in at))
            message = (
                f"holds one reading a row, and its cell {number + 1} says of what ({', '.join(names[:3])}); write one "
                "row for each time with a column for each channel (a pivot table in a spreadsheet does that)"
            )
            raise complaint(path, message, at[0][0])


def _likely(head: Sequence[str], delimiters: list[str]) -> str:
    """What the headers probably are, for a message."""
    rows = [_cells([line], delimiter)[0] for delimiter in delimiters for line in head]
    words = [[cell for cell in row if cell and not cell[0].isdigit() and cell[0] not in "+-."] for row in rows]
    longest = max(words, key=len, default=[])
    more = ", …" if len(longest) > _SHOWN else ""
    return f"this log has {', '.join(map(quoted, longest[:_SHOWN]))}{more}" if longest else "this log has no headers"


def quoted(text: str) -> str:
    """A header in quotation marks, cut where it is long."""
    return f'"{text if len(text) <= 40 else text[:40] + "…"}"'


def _are_units(cells: list[str]) -> bool:
    """Whether a row under the headers is one of units."""
    told = [cell for cell in cells if cell.strip("-– ")]
    return bool(told) and all(unit_of(cell.strip("[]() ")) for cell in told)


def _times(path: Path, line: int, headers: tuple[str, ...], layout: Layout) -> tuple[int, ...]:
    if not layout.time:
        return (0,)
    found = []
    for name in layout.time:
        numbers = matching(name, headers)
        if len(numbers) != 1:
            names = [take_apart(header).name for header in headers]
            what = "is there more than once" if numbers else f"is not in this log{nearest(name, names)}"
            raise complaint(path, f"the time {what}", line, name)
        found += numbers
    return tuple(found)


def _once(path: Path, line: int, headers: tuple[str, ...], found: dict[int, str]) -> None:
    """A channel has one column in a log, but for the room."""
    first: dict[str, int] = {}
    for number, channel in sorted(found.items()):
        if channel in first and channel not in (*MANY, IGNORE):
            raise complaint(path, f'{channel} is column "{headers[first[channel]]}" too', line, headers[number])
        first.setdefault(channel, number)

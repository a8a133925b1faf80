"""The shape of a log: its delimiter, the row of headers behind the preamble, and which column is which channel."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from thermsim import units
from thermsim.bench.logs.headers import Header, matching, plain, take_apart, unit_of
from thermsim.bench.logs.opening import complaint
from thermsim.case.benching import Layout
from thermsim.case.benching_checks import TIME_FORMS
from thermsim.case.channels import IGNORE, MANY, TEXT, dimensions_of
from thermsim.case.errors import nearest
from thermsim.model.arrays import Floats

HEAD_LINES = 300  # the headers are among them
SIGNS = {",": ",", ";": ";", "tab": "\t"}
NEARLY = 0.75  # of 1, the likeness of two headers that are one misspelt
_SHOWN = 8  # headers in a message
Rated = dict[str, float]  # rated speeds, rev/s, of fans and pumps by channel


@dataclass(frozen=True)
class Column:
    """A column that is read: its number, header and channel; `convert` is None for words."""

    number: int
    header: str
    channel: str
    convert: Callable[[Floats], Floats] | None


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
        _column(path, line, headers, units_row, layout, rated, number, channel)
        for number, channel in sorted(found.items()) if channel != IGNORE
    )  # fmt: skip
    unmapped = tuple(h for number, h in enumerate(headers) if h and number not in found and number not in times)
    missing = tuple(header for header in wanted if not matching(header, headers))
    for header in missing:
        meant = _nearly(header, unmapped)
        if meant:
            message = f'is not in this log; did you mean "{meant}"? If not, map that to its channel or to "ignore"'
            raise complaint(path, message, line, header)
    time_unit = _time_unit(path, line, headers, units_row, layout, times)
    before = behind + (1 if units_row else 0)
    return Shape(delimiter, line, before, headers, units_row, times, time_unit, columns, missing, unmapped)


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
    targets = {plain(header) for header in (*wanted, *layout.time)}
    starts = tuple(targets)
    delimiters = [SIGNS[layout.delimiter]] if layout.delimiter else list(SIGNS.values())
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


def _stated_unit(headers: tuple[str, ...], layout: Layout, number: int) -> str | None:
    return next((unit for header, unit in layout.units.items() if number in matching(header, headers)), None)


def _column(
    path: Path, line: int, headers: tuple[str, ...], units_row: tuple[str, ...], layout: Layout, rated: Rated,
    number: int, channel: str,
) -> Column:  # fmt: skip
    """A column with what turns its numbers into SI."""
    header, dimensions = headers[number], dimensions_of(channel)
    if TEXT in dimensions:
        return Column(number, header, channel, None)
    told = take_apart(header)
    unit = _stated_unit(headers, layout, number) or _own_unit(told, dimensions)
    if unit is None and told.strange:
        message = f'"{told.strange}" is no unit known here: say units = {{ "{header}" = "{_sample(dimensions)}" }}'
        raise complaint(path, message, line, header)
    unit = unit or (unit_of(units_row[number].strip("[]() ")) if number < len(units_row) else None)
    unit = unit or (layout.unit if "temperature" in dimensions else None)
    if unit is None:
        every = f' or unit = "{_sample(dimensions)}" for all' if "temperature" in dimensions else ""
        message = f'has no unit: say units = {{ "{header}" = "{_sample(dimensions)}" }}{every}'
        raise complaint(path, message, line, header)
    fitting = next((dimension for dimension in dimensions if units.is_unit(unit, dimension)), None)
    if fitting is None:
        try:
            units.converter(unit, dimensions[0])
        except units.UnitError as error:
            raise complaint(path, f"mapped to {channel}: {error}", line, header) from None
    convert = units.converter(unit, fitting or dimensions[0])
    if fitting == "rotation":
        return Column(number, header, channel, _share(path, line, header, channel, convert, rated))
    return Column(number, header, channel, convert)


def _share(
    path: Path, line: int, header: str, channel: str, convert: Callable[[Floats], Floats], rated: Rated
) -> Callable[[Floats], Floats]:
    """From revolutions to a share of the rated speed."""
    if channel not in rated:
        raise complaint(path, f"is in revolutions, and the case states no rated_speed of {channel}", line, header)
    speed = rated[channel]
    return lambda values: convert(values) / speed


def _own_unit(told: Header, dimensions: tuple[str, ...]) -> str | None:
    """The header's unit; a loose one only if it fits: "T min" is no time."""
    fits = told.unit and any(units.is_unit(told.unit, dimension) for dimension in dimensions)
    return told.unit if fits or not told.loose else None


def _sample(dimensions: tuple[str, ...]) -> str:
    return "%" if dimensions[0] == "fraction" else units.example(dimensions[0]).split()[-1]


def _time_unit(
    path: Path, line: int, headers: tuple[str, ...], units_row: tuple[str, ...], layout: Layout, times: tuple[int, ...]
) -> str | None:
    """The unit of a time in one column: a size, or a form such as "mm:ss"; None where nothing tells."""
    if len(times) != 1:
        return None
    number = times[0]
    stated = _stated_unit(headers, layout, number)
    under = unit_of(units_row[number].strip("[]() ")) if number < len(units_row) else None
    unit = stated or take_apart(headers[number]).unit or under
    if unit is None or unit in TIME_FORMS or units.is_unit(unit, "time"):
        return unit
    raise complaint(path, f'"{unit}" is no unit of time; is this the time? Say `time`', line, headers[number])

"""Columns that are read: which channel, and from which unit to SI and °C."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from thermsim import units
from thermsim.bench.logs.headers import Header, matching, take_apart, unit_of
from thermsim.bench.logs.opening import complaint
from thermsim.case.benching import Layout
from thermsim.case.benching_checks import TIME_FORMS
from thermsim.case.channels import TEXT, dimensions_of
from thermsim.model.arrays import Floats

Rated = dict[str, float]  # rated speeds, rev/s, of fans and pumps by channel


@dataclass(frozen=True)
class Column:
    """A column that is read: its number, header and channel; `convert` and `unit` are None for words."""

    number: int
    header: str
    channel: str
    convert: Callable[[Floats], Floats] | None
    unit: str | None = None


def _stated_unit(headers: tuple[str, ...], layout: Layout, number: int) -> str | None:
    return next((unit for header, unit in layout.units.items() if number in matching(header, headers)), None)


def column(
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
        return Column(number, header, channel, _share(path, line, header, channel, convert, rated), unit)
    return Column(number, header, channel, convert, unit)


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


def time_unit(
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

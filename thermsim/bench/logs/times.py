"""Times as loggers write them: seconds, h:mm:ss, ISO 8601, or local stamps of a stated form."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal

import numpy as np

from thermsim import units
from thermsim.bench.logs.cells import NotANumberError, numbers
from thermsim.case.benching_checks import TIME_FORMS
from thermsim.model.arrays import Floats

Kind = Literal["elapsed", "of day", "stamp", "stamp with offset"]

_EPOCH = datetime(1970, 1, 1)
_NUMBER = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?")
_CLOCK = re.compile(r"(\d+):([0-5]\d):([0-5]\d(?:[.,]\d+)?)")
_TWO = re.compile(r"(\d+):([0-5]\d(?:[.,]\d+)?)")
_ISO = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:?\d\d.*|\d{8}T\d{4}.*")
_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})[./-](\d{1,4})\b[ ,T]*(.*)")


class UnclearTimeError(ValueError):
    """Times that can be taken in more than one way, or in none: the message is for the user."""


@dataclass(frozen=True)
class Clock:
    """How a log's times are read: seconds as written, of a day, or since 1970."""

    kind: Kind
    unit: str | None = None  # of plain numbers, or a form such as "mm:ss"
    form: str | None = None  # of strptime
    decimal: str = "."

    def seconds(self, cells: Sequence[str]) -> Floats:
        """Times in s. Raises `NotANumberError` with the number of the cell that is no such time."""
        if self.unit is not None and self.unit not in TIME_FORMS:
            values, _ = numbers(cells, self.decimal, grouped=False)
            if not np.isfinite(values).all():
                raise NotANumberError(int(np.flatnonzero(~np.isfinite(values))[0]))
            return units.converter(self.unit, "time")(values)
        found = np.empty(len(cells))
        for index, cell in enumerate(cells):
            try:
                found[index] = self._second(cell.strip())
            except (ValueError, TypeError, OverflowError):
                raise NotANumberError(index) from None
        return found

    def _second(self, text: str) -> float:
        if self.kind.startswith("stamp"):
            stamp = datetime.strptime(text, self.form) if self.form else datetime.fromisoformat(text)
            if (stamp.tzinfo is None) != (self.kind == "stamp"):
                raise ValueError(text)
            return ((stamp.astimezone(UTC).replace(tzinfo=None) if stamp.tzinfo else stamp) - _EPOCH).total_seconds()
        pattern = _TWO if self.unit in ("mm:ss", "h:mm") else _CLOCK
        found = pattern.fullmatch(text)
        if found is None:
            raise ValueError(text)
        pieces = [float(piece.replace(",", ".")) for piece in found.groups()]
        if self.unit == "h:mm":
            pieces.append(0.0)
        return float(sum(piece * 60.0**power for power, piece in enumerate(reversed(pieces))))

    def moment(self, text: str, first: float) -> float:
        """A time that the user states, s as `seconds` gives them: as the log writes it, or a time after its first."""
        try:
            return float(self.seconds([text])[0])
        except NotANumberError:
            try:
                return first + units.quantity(text, "time")
            except units.UnitError:
                raise UnclearTimeError(f'"{text}" is neither a time as this log writes it nor such as "30 s"') from None

    def stamp(self, seconds: float) -> datetime | None:
        """Date and time of a moment, where the log tells dates; UTC where it tells offsets."""
        if not self.kind.startswith("stamp"):
            return None
        stamp = _EPOCH + timedelta(seconds=seconds)
        return stamp if self.kind == "stamp" else stamp.replace(tzinfo=UTC)


def clock_of(text: str, header: str, unit: str | None, form: str | None, decimal: str) -> Clock:
    """How times such as this one are read. Raises `UnclearTimeError` with what the case must say."""
    cell = text.strip()
    if form is not None:
        return _by_form(cell, form)
    if unit in TIME_FORMS:
        return Clock("of day", unit=unit)
    if _NUMBER.fullmatch(cell):
        if unit is None:
            raise UnclearTimeError(f'"{cell}" has no unit: say units = {{ "{header}" = "s" }}, or "min", or "h"')
        return Clock("elapsed", unit=unit, decimal=decimal)
    if _CLOCK.fullmatch(cell):
        return Clock("of day")
    if _TWO.fullmatch(cell):
        raise UnclearTimeError(f'"{cell}" may be minutes or hours: say units = {{ "{header}" = "mm:ss" }}, or "h:mm"')
    if _ISO.fullmatch(cell):
        try:
            stamp = datetime.fromisoformat(cell)
        except ValueError as error:
            raise UnclearTimeError(f'"{cell}" is no time ({error})') from None
        return Clock("stamp" if stamp.tzinfo is None else "stamp with offset")
    raise UnclearTimeError(_unclear(cell))


def _by_form(cell: str, form: str) -> Clock:
    try:
        stamp = datetime.strptime(cell, form)
    except ValueError:
        raise UnclearTimeError(f'"{cell}" is not of the form time_format = "{form}"') from None
    if stamp.year == 1900:
        raise UnclearTimeError(f'time_format = "{form}" tells no year')
    return Clock("stamp" if stamp.tzinfo is None else "stamp with offset", form=form)


def _unclear(cell: str) -> str:
    found = _DATE.fullmatch(cell)
    if not found:
        return f'"{cell}" is no time; expected seconds, h:mm:ss, "2026-03-01 10:00:00", or what time_format says'
    sign, rest = found[2], found[5]
    if not rest:
        return f'"{cell}" is a date alone; with the time of day in its own column say time = ["DATE", "TIME"]'
    day = "%I:%M:%S %p" if rest[-1:] in "mM" else "%H:%M:%S" if rest.count(":") == 2 else "%H:%M"
    year = "%Y" if max(len(found[1]), len(found[4])) == 4 else "%y"
    forms = [sign.join(order) for order in (("%d", "%m", year), ("%m", "%d", year))]
    if len(found[1]) == 4:
        return f'"{cell}": say time_format = "{sign.join(("%Y", "%m", "%d"))} {day}" if that is its form'
    return f'"{cell}": is day or month first? Say time_format = "{forms[0]} {day}" or "{forms[1]} {day}"'

"""Hourly weather from a CSV file: the dew point of the outdoor air."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from thermsim.case.errors import CaseError, Problem
from thermsim.model.arrays import Floats
from thermsim.physics.moist_air import dew_point

UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
LARGEST_BYTES = 20_000_000
LEAST_MARKS = 0.9  # a line: a semicolon or tab as often as that parts columns, and commas are decimal
HEADER_WITHIN = 30  # rows
POSSIBLE_DEGC = (-90.0, 60.0)  # what is outside marks a gap
MOST_MISSING = 0.1  # of the rows
YEAR_H = (8700, 8784)
LEAST_PERCENT = 2.0  # no year's highest humidity is below: such numbers are fractions
DEGC: dict[str, Callable[[float], float]] = {
    **dict.fromkeys(("c", "degc", "celsius"), lambda t: t),
    **dict.fromkeys(("f", "degf", "fahrenheit"), lambda t: (t - 32) / 1.8),
    **dict.fromkeys(("k", "kelvin"), lambda t: t - 273.15),
}
SHARE: dict[str, Callable[[float], float]] = {
    **dict.fromkeys(("percent", "pct"), lambda rh: rh / 100),
    **dict.fromkeys(("fraction", "share"), lambda rh: rh),
}


@dataclass(frozen=True)
class Weather:
    """Dew points by the hour, °C, shape (hours,); rows without usable values are left out and counted."""

    name: str
    dew_points_degc: Floats
    missing: int

    def facts(self) -> dict[str, Any]:
        """What the file holds."""
        dew = self.dew_points_degc
        return {
            "file": self.name,
            "hours": dew.size,
            "missing_hours": self.missing,
            "is_a_year": YEAR_H[0] <= dew.size + self.missing <= YEAR_H[1],
            "highest_dew_point_degc": float(dew.max()),
        }

    def hours_below(self, surface_degc: float, margin_k: float = 0.0) -> int:
        """Hours in which a surface is less than a margin above the dew point."""
        return int((surface_degc - self.dew_points_degc < margin_k).sum())


@dataclass(frozen=True)
class _Column:
    number: int
    title: str
    read: Callable[[float], float]


def read_weather(path: str | Path) -> Weather:
    """Hourly rows under a header that names dry bulb with dew point or relative humidity, with units in the header.

    Such as `temperature_degc,humidity_percent`, or "Dry-bulb (C)", "Dew-point (C)", "RHum (%)" as in typical-year
    files; lines above the header are passed over. Raises `CaseError` with what is wrong with the file.
    """
    path = Path(path)
    rows = _rows(path)
    first, columns = _header(path, rows)
    if len(rows) == first:
        raise _wrong(path, "no rows below the header")
    values = [[_value(row, column) for column in columns] for row in rows[first:]]
    _check_percent(path, columns, values)
    found = [_dew_point(row) for row in values]
    kept = np.array([value for value in found if value is not None])
    missing = len(found) - kept.size
    if not kept.size or missing > MOST_MISSING * len(found):
        titles = " and ".join(f'"{column.title}"' for column in columns)
        raise _wrong(path, f"{missing} of {len(found)} rows have no usable {titles}")
    return Weather(path.name, kept, missing)


def _header(path: Path, rows: list[list[str]]) -> tuple[int, list[_Column]]:
    """Number of the first row of values, and the columns to read: dew point, or dry bulb and humidity."""
    for number, row in enumerate(rows[:HEADER_WITHIN], start=1):
        dew, dry, air, humidity = (_find(row, *kind) for kind in (DEW, DRY, AIR, HUMIDITY))
        dry = dry or air
        if dew:
            return number, [dew]
        if dry and humidity:
            return number, [dry, humidity]
    raise _wrong(
        path, "no header that names a dew point, or dry bulb and relative humidity, with their units; expected for "
        'example "temperature_degc,humidity_percent"'
    )  # fmt: skip


def _check_percent(path: Path, columns: Sequence[_Column], values: Sequence[Sequence[float | None]]) -> None:
    """Refuse fractions under a header that says per cent: they would make every hour bone dry."""
    for k, column in enumerate(columns):
        highest = max((value for row in values if (value := row[k]) is not None), default=1.0)
        if column.read is SHARE["percent"] and 100 * highest < LEAST_PERCENT:
            raise _wrong(path, f'"{column.title}" is never above {100 * highest:.2g} %; is it a fraction of 1?')


def _rows(path: Path) -> list[list[str]]:
    try:
        if not (path.is_file() or path.is_dir()) and path.exists():
            raise _wrong(path, "is no ordinary file; expected a CSV file")
        if path.stat().st_size > LARGEST_BYTES:
            raise _wrong(path, f"is larger than {LARGEST_BYTES // 1_000_000} MB; expected the hours of a year")
        raw = path.read_bytes()
    except FileNotFoundError:
        raise _wrong(path, "no such file") from None
    except IsADirectoryError:
        raise _wrong(path, "is a folder; expected a CSV file") from None
    text = raw.decode("utf-16" if raw[:2] in UTF_16 else "utf-8-sig", errors="replace")
    delimiter = next((mark for mark in ";\t" if text.count(mark) >= LEAST_MARKS * len(text.splitlines())), ",")
    rows = csv.reader(text.splitlines(), delimiter=delimiter)
    return [row for row in rows if any(cell.strip() for cell in row)]


NOT_AIR = {"dew", "wet", "soil", "ground", "surface", "sky", "apparent", "radiant", "globe"}
Kind = tuple[Callable[[set[str]], bool], dict[str, Callable[[float], float]]]
DEW: Kind = (lambda words: "dew" in words or "dewpoint" in words, DEGC)
DRY: Kind = (lambda words: bool(words & {"dry", "drybulb"}), DEGC)
AIR: Kind = (lambda words: bool(words & {"temperature", "temp"}) and not words & NOT_AIR, DEGC)
HUMIDITY: Kind = (lambda words: bool(words & {"humidity", "rh", "rhum"}) and "specific" not in words, SHARE)


def _find(row: Sequence[str], fits: Callable[[set[str]], bool], units: dict[str, Any]) -> _Column | None:
    """The first column of a header row that tells a quantity with its unit."""
    for number, title in enumerate(row):
        spelt = re.sub(r"°\s*", "deg", title.lower()).replace("%", " percent ")
        words = re.findall(r"[a-z]+", spelt)
        unit = next((word for word in reversed(words) if word in units), None)
        if fits(set(words)) and unit:
            return _Column(number, title.strip(), units[unit])
    return None


def _value(row: Sequence[str], column: _Column) -> float | None:
    try:
        return column.read(float(row[column.number].replace(",", ".")))
    except (ValueError, IndexError):
        return None


def _dew_point(values: Sequence[float | None]) -> float | None:
    """From a dew point, or from dry bulb (°C) and humidity (0 to 1); None where they cannot be."""
    first, *more = values
    if first is None or not POSSIBLE_DEGC[0] < first < POSSIBLE_DEGC[1]:
        return None
    if not more:
        return first
    humidity = more[0]
    return dew_point(first, min(humidity, 1.0)) if humidity is not None and 0 < humidity <= 1.05 else None


def _wrong(path: Path, message: str) -> CaseError:
    return CaseError([Problem(str(path), None, "", message)])

"""Hourly weather from a CSV file: the dew point of the outdoor air."""

from __future__ import annotations

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

DELIMITERS = ",;\t"
HEADER_WITHIN = 30  # rows
POSSIBLE_DEGC = (-90.0, 60.0)  # what is outside marks a gap
MOST_MISSING = 0.1  # of the rows
YEAR_H = (8700, 8784)
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
    found = [_dew_point([_value(row, column) for column in columns]) for row in rows[first:]]
    kept = np.array([value for value in found if value is not None])
    missing = len(found) - kept.size
    if not kept.size or missing > MOST_MISSING * len(found):
        titles = " and ".join(f'"{column.title}"' for column in columns)
        raise _wrong(path, f"{missing} of {len(found)} rows have no usable {titles}")
    return Weather(path.name, kept, missing)


def _header(path: Path, rows: list[list[str]]) -> tuple[int, list[_Column]]:
    """Number of the first row of values, and the columns to read: dew point, or dry bulb and humidity."""
    for number, row in enumerate(rows[:HEADER_WITHIN], start=1):
        dew, dry, humidity = (_find(row, *kind) for kind in (DEW, DRY, HUMIDITY))
        if dew:
            return number, [dew]
        if dry and humidity:
            return number, [dry, humidity]
    raise _wrong(
        path, "no header that names a dew point, or dry bulb and relative humidity, with their units; expected for "
        'example "temperature_degc,humidity_percent"'
    )  # fmt: skip


def _rows(path: Path) -> list[list[str]]:
    try:
        text = path.read_text(encoding="utf-8-sig", errors="replace")
    except FileNotFoundError:
        raise _wrong(path, "no such file") from None
    except IsADirectoryError:
        raise _wrong(path, "is a folder; expected a CSV file") from None
    delimiter = max(DELIMITERS, key=text.count)
    return [row for row in csv.reader(text.splitlines(), delimiter=delimiter) if any(cell.strip() for cell in row)]


Kind = tuple[Callable[[set[str]], bool], dict[str, Callable[[float], float]]]
DEW: Kind = (lambda words: "dew" in words or "dewpoint" in words, DEGC)
DRY: Kind = (lambda words: bool(words & {"dry", "drybulb", "temperature", "temp"}) and not words & {"dew", "wet"}, DEGC)
HUMIDITY: Kind = (lambda words: bool(words & {"humidity", "rh", "rhum"}) and "specific" not in words, SHARE)


def _find(row: Sequence[str], fits: Callable[[set[str]], bool], units: dict[str, Any]) -> _Column | None:
    """The first column of a header row that tells a quantity with its unit."""
    for number, title in enumerate(row):
        spelt = re.sub(r"°\s*", "deg", title.lower()).replace("%", " percent ")
        words = set(re.findall(r"[a-z]+", spelt))
        unit = next((word for word in words if word in units), None)
        if fits(words) and unit:
            return _Column(number, title.strip(), units[unit])
    return None


def _value(row: Sequence[str], column: _Column) -> float | None:
    try:
        return column.read(float(row[column.number]))
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

"""Cells as numbers: decimal sign, thousands, and what loggers write where there is no reading."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from math import nan

import numpy as np
from numpy.typing import NDArray

from thermsim import units
from thermsim.bench.logs.headers import unit_of
from thermsim.model.arrays import Floats

Truths = NDArray[np.bool_]

_NO_READING = {
    "ol", "+ol", "-ol", "o.l", "o.l.", "over", "+over", "-over", "under", "ovld", "overload", "overflow", "ovf",
    "overrange", "over range", "underrange", "out of range", "oor", "open", "short", "open circuit", "burnout",
    "nan", "+nan", "-nan", "inf", "+inf", "-inf", "infinity", "1.#inf", "-1.#inf", "1.#qnan", "-1.#ind",
    "#n/a", "n/a", "na", "#nv", "#value!", "#div/0!", "#num!", "#ref!", "null", "none", "nil",
    "err", "error", "err.", "fail", "fault", "invalid", "bad", "?", "x", "*",
}  # fmt: skip
_DASHES = re.compile(r"[-–—_.*+]+")  # "---", "**.*", "----.-"
_SPACES = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "−": "-"})
_NUMBERLIKE = re.compile(r"([+-]?\d[\d.,]*(?:[eE][+-]?\d+)?)(?:\s*[°%A-Za-zµ][^:]*)?")
_WITH_UNIT = re.compile(r"(.*?)\s*([°%A-Za-zµ]\S*)")  # "22.5 °C", "--- °C"
_ONE_GROUP = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")  # 1,234: decimals or thousands
_PLAIN = {
    ".": re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"),
    ",": re.compile(r"[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?"),
}
_GROUPED = {
    ".": re.compile(r"[+-]?\d{1,3}(?:[, '’]\d{3})+(?:\.\d*)?"),
    ",": re.compile(r"[+-]?\d{1,3}(?:[. '’]\d{3})+(?:,\d*)?"),
}

# what loggers store for an open or broken sensor; 9.9E37 is SCPI's, the rest common practice, no source
_SENTINELS = np.array([-9999.0, -9999.9, -9999.99, -99999.0, -999.0, -999.9, -999.99, -32768.0, -3276.8, -7999.0])
_HUGE = 1e30


class NotANumberError(ValueError):
    """Text where a number should be: which cell of those given."""

    def __init__(self, index: int) -> None:
        super().__init__(index)
        self.index = index


class TwoSignsError(ValueError):
    """Cells that do not tell whether comma or point is the decimal sign: the message is for the user, with a cell."""

    def __init__(self, message: str, cell: str) -> None:
        super().__init__(message)
        self.cell = cell


def decimal_of(cells: Iterable[str]) -> str:
    """The decimal sign that these cells show, a point if they show none. Raises `TwoSignsError`."""
    shown: dict[str, str] = {}
    sure = False  # of commas that are no thousands
    for text in cells:
        found = _NUMBERLIKE.fullmatch(text.strip()) if "," in text or "." in text else None
        cell = found[1] if found else ""
        if not ("," in cell or "." in cell):
            continue
        sign = "," if cell.rfind(",") > cell.rfind(".") else "."
        if cell.count(sign) > 1:
            sign = "." if sign == "," else ","
        shown.setdefault(sign, cell)
        sure = sure or not _ONE_GROUP.fullmatch(cell)
    if len(shown) == 2:
        first, other = shown.values()
        raise TwoSignsError(f'"{other}" after "{first}": which decimal sign? Say decimal = "." or decimal = ","', other)
    if "," in shown and not sure:
        text = shown[","]
        either = f"{text.replace(',', '.')} or {text.replace(',', '')}"
        raise TwoSignsError(f'"{text}" may be {either}: say decimal = "," or decimal = "."', text)
    return next(iter(shown), ".")


def numbers(
    cells: Sequence[str], decimal: str, grouped: bool, unit: str | None = None
) -> tuple[Floats, dict[int, str]]:
    """Numbers (NaN where a cell is empty or no reading), and what stood where there was no reading.

    `grouped`: a sign between thousands is allowed. `unit`: may stand behind the numbers. Raises `NotANumberError` with
    the number of the cell.
    """
    joined = "".join(cells)
    other = "." if decimal == "," else ","
    if "_" not in joined and other not in joined:
        try:
            texts = [cell.replace(",", ".") for cell in cells] if decimal == "," else cells
            values = np.fromiter(map(float, texts), np.float64, len(cells))
        except ValueError:
            pass
        else:
            strange = np.flatnonzero(~np.isfinite(values))
            values[strange] = nan
            return values, {index: cells[index].strip() for index in map(int, strange)}
    values = np.empty(len(cells))
    absent: dict[int, str] = {}
    for index, cell in enumerate(cells):
        text = cell.strip()
        value = _number(text, decimal, grouped)
        if value is None and unit and (told := unit_behind(text)) and units.is_same(told, unit):
            text = _WITH_UNIT.sub(r"\1", text)
            value = _number(text, decimal, grouped)
        if value is None:
            if not (text.casefold() in _NO_READING or _DASHES.fullmatch(text)):
                raise NotANumberError(index)
            absent[index] = text
        values[index] = nan if value is None else value
    return values, absent


@lru_cache(maxsize=64)
def _known(text: str) -> str | None:
    return unit_of(text)


def unit_behind(cell: str) -> str | None:
    """The unit that stands behind what a cell holds, if one does."""
    found = _WITH_UNIT.fullmatch(cell.strip())
    return _known(found[2]) if found else None


def _number(cell: str, decimal: str, grouped: bool) -> float | None:
    """A cell as a number, NaN where it is empty; None if it is none."""
    text = cell.translate(_SPACES).strip()
    if not text:
        return nan
    if _PLAIN[decimal].fullmatch(text):
        return float(text.replace(",", "."))
    if grouped and _GROUPED[decimal].fullmatch(text):
        bare = re.sub(r"[ '’]", "", text).replace("." if decimal == "," else ",", "")
        return float(bare.replace(",", "."))
    return None


def no_readings(values: Floats) -> Truths:
    """Where a logger has stored a number that stands for an open or broken sensor, as truth values."""
    with np.errstate(invalid="ignore"):
        found: Truths = np.isin(values, _SENTINELS) | (np.abs(values) >= _HUGE)
    return found

"""Whether a result file is what it seems: nothing in it leads elsewhere, and its parts fit together."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from thermsim.case.names import obeyed
from thermsim.model.arrays import Floats
from thermsim.store.layout import ResultError

COLDEST, HOTTEST = -273.15, 1e5  # °C, of a field; a run that gets nearly as hot is stopped
MOST = 1e30  # of any number; figures take differences and squares
MOST_NAMES = 100_000  # groups and data sets; a result has one for each curve


def check_file(path: Path) -> None:
    """Raise `ResultError` for what is no ordinary file: to open a pipe may wait for ever."""
    if path.exists() and not stat.S_ISREG(path.stat().st_mode):
        raise ResultError(f"{path}: is no ordinary file")


def check_inside(file: Any) -> None:
    """Raise `ResultError` unless all that an open file shows is its own: no links, no data kept in other files.

    `ValueError` for more groups and data sets, or groups lying deeper in one another, than a result has.
    """
    waiting, seen = [file["/"]], 0
    while waiting:
        group = waiting.pop()
        for name in group:
            seen += 1
            where = f"{group.name.rstrip('/')}/{name}"
            if seen > MOST_NAMES:
                raise ValueError(f"it holds more than {MOST_NAMES:,} groups and data sets")
            if not isinstance(group.get(name, getlink=True), h5py.HardLink):
                raise ResultError(f"{file.filename}: {where} is a link; results have none, and it was not followed")
            item = group[name]
            if isinstance(item, h5py.Dataset) and (item.external or item.is_virtual):
                raise ResultError(f"{file.filename}: {where} keeps its data in other files; they were not read")
            if isinstance(item, h5py.Group):
                if item.name.count("/") > 3:
                    raise ValueError(f"{where} lies too deep")
                waiting.append(item)


def field_of(group: Any) -> tuple[Floats, Floats, Floats, Floats]:
    """Times, grid lines in x and y, and temperatures of a sheet's group. Raises `ValueError` where they do not fit."""
    count = min(group["time"].shape[0], group["temperature"].shape[0])
    time, temperature = numbers(group["time"][:count]), numbers(group["temperature"][:count])
    x, y = (numbers(group.attrs[f"{name}_edges"]) for name in "xy")
    if temperature.shape != (count, y.size - 1, x.size - 1) or not all(one.ndim == 1 for one in (time, x, y)):
        raise ValueError(f"the field of {group.name} has not the shape of its grid")
    for what, values in (("grid lines", x), ("grid lines", y), ("times", time)):
        check_rising(values, f"{what} of {group.name}")
    there = np.isfinite(temperature)
    if not there.any(axis=(1, 2)).all():
        raise ValueError(f"the field of {group.name} holds no temperatures")
    if not ((temperature[there] >= COLDEST) & (temperature[there] <= HOTTEST)).all():
        raise ValueError(f"the field of {group.name} holds what is no temperature")
    return time, x, y, temperature


def check_rising(values: Floats, what: str) -> None:
    """Raise `ValueError` unless values are finite and each is more than the one before."""
    if not (np.isfinite(values).all() and (np.diff(values) > 0).all()):
        raise ValueError(f"{what} do not rise")


def curve_of(data: Any, count: int) -> Floats:
    """The first values of a curve. Raises `ValueError` where they are no numbers in a row."""
    values = numbers(data[:count])
    if values.ndim != 1:
        raise ValueError(f"{data.name} is no curve")
    return values


def text_of(item: Any, key: str) -> str:
    """An attribute that is text, to be shown. Raises `ValueError` where it is none."""
    text = item.attrs[key]
    if not isinstance(text, str) or obeyed(text):
        raise ValueError(f"{key} of {item.name} is no text to be shown")
    return text


def numbers(values: Any) -> Floats:
    """Values as floats, NaN among them. Raises `ValueError` for text, records, complex numbers, and ones beyond all."""
    array = np.asarray(values)
    if array.dtype.kind not in "fiu":
        raise ValueError(f"{array.dtype} where numbers should be")
    if array.size and not (np.isnan(array) | (abs(array) <= MOST)).all():
        raise ValueError(f"numbers beyond {MOST:g}")
    return array.astype(float)

"""Reading one number off an answer: a fact by its key, a curve at a time, a sheet at a point."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.units import quantity, tuple_of
from thermsim.verify.checkfile import CheckError, Reading, Row

if TYPE_CHECKING:
    from thermsim.store.result import Result, SheetField

WORD = re.compile(r"\[[^\]]*\]|[^.\[]+")


@dataclass(frozen=True)
class Answer:
    """What a command told: its facts, and the stored result if it was a run."""

    facts: Mapping[str, Any]
    result: Result | None = None


def got(row: Row, answers: Mapping[str, Answer], first: str) -> float:
    """What a row asks for, of the answers by ask; `first` where it names none.

    Raises `CheckError` where the answers do not hold it.
    """
    if row.table:
        return max((_value(_at(row, place), answers, first) - value for place, value in row.table), key=abs)
    return _value(row, answers, first)


def _at(row: Row, place: str) -> Row:
    """The row's reading at one place of its table."""
    if row.sheet is not None:
        return row.model_copy(update={"point": tuple_of(place, "length", 2)})
    if row.curve is not None:
        return row.model_copy(update={"time": quantity(place, "time")})
    return row.model_copy(update={"key": place})


def _value(row: Row, answers: Mapping[str, Answer], first: str) -> float:
    def of(reading: Reading) -> float:
        return read(reading, answers[reading.of or row.of or first])

    value = of(row)
    if row.plus is not None:
        value += of(row.plus)
    if row.minus is not None:
        value -= of(row.minus)
    if row.over is not None:
        value /= of(row.over)
    value = value * row.factor + row.offset
    if not math.isfinite(value):  # which no comparison would find
        raise CheckError(f"{row.quantity}: {value}")
    return value


def read(reading: Reading, answer: Answer) -> float:
    """The number at a place of an answer."""
    if reading.key is not None:
        return _number(fact(answer.facts, reading.key), reading.key)
    if answer.result is None:
        raise CheckError("curves and sheets are of a run")
    if reading.curve is not None:
        return _on_curve(answer.result, reading.curve, reading.time)
    return _on_sheet(answer.result, reading)


def fact(facts: Any, key: str) -> Any:
    """What stands at a key: at each level the longest run of words that is one; `[name=x]` picks from a list."""
    words = WORD.findall(key)
    here = facts
    while words:
        here, words = _step(here, words, key)
    return here


def _step(here: Any, words: list[str], key: str) -> tuple[Any, list[str]]:
    """One level down, and the words left."""
    if isinstance(here, Mapping):
        for count in range(len(words), 0, -1):
            name = ".".join(words[:count])
            if name in here:
                return here[name], words[count:]
    elif isinstance(here, Sequence) and not isinstance(here, str):
        if words[0].startswith("["):
            name, _, wanted = words[0][1:-1].partition("=")
            found = [item for item in here if str(item.get(name)) == wanted]
            if found:
                return found[0], words[1:]
        elif words[0].isdigit() and int(words[0]) < len(here):
            return here[int(words[0])], words[1:]
    raise CheckError(f"{key}: nothing is told at {words[0]}")


def _number(value: Any, key: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise CheckError(f"{key}: {value} is no number")
    return float(value)


def _on_curve(result: Result, name: str, time: float | None) -> float:
    """Value of `group.name` at a time (s), linear between samples; the last where none is given."""
    group, _, curve = name.partition(".")
    series = result.curves.get(group, {}).get(curve)
    if series is None:
        raise CheckError(f"the run has no curve {name}")
    end = float(series.time[-1])
    if time is not None and time > end:
        raise CheckError(f"{name}: the run ends at {end:g} s")
    return float(np.interp(end if time is None else time, series.time, series.values))


def _on_sheet(result: Result, reading: Reading) -> float:
    """Temperature at a point, linear between cell centres and beyond the outermost, or the mean over an area."""
    name = reading.sheet or ""
    field = result.fields.get(name if "." in name else f"sheet.{name}")
    if field is None:
        raise CheckError(f"the run has no sheet {name}")
    frame = _frame(field, reading.time)
    values = field.temperature[frame]
    if reading.area is not None:
        return _mean(field, values, *reading.area)
    if reading.point is None:
        raise CheckError(f"sheet {name}: give a point or an area")
    x, y = reading.point
    along_x = np.array([_linear(x, _centres(field.x_edges), row) for row in values])
    return _linear(y, _centres(field.y_edges), along_x)


def _frame(field: SheetField, time: float | None) -> int:
    if time is None:
        return -1
    nearest = int(np.abs(field.time - time).argmin())
    if abs(field.time[nearest] - time) > 1e-6 * time:
        raise CheckError(f"{field.address}: {time:g} s is no frame of the run")
    return nearest


def _mean(field: SheetField, values: Any, corner: tuple[float, float], size: tuple[float, float]) -> float:
    inside = [
        (low < _centres(edges)) & (_centres(edges) < low + length)
        for edges, low, length in zip((field.y_edges, field.x_edges), corner[::-1], size[::-1], strict=True)
    ]
    areas = np.diff(field.y_edges)[inside[0], None] * np.diff(field.x_edges)[None, inside[1]]
    return float((values[np.ix_(*inside)] * areas).sum() / areas.sum())


def _centres(edges: Any) -> Any:
    return 0.5 * (edges[1:] + edges[:-1])


def _linear(where: float, at: Any, values: Any) -> float:
    if at.size == 1:
        return float(values[0])
    k = int(np.clip(np.searchsorted(at, where) - 1, 0, at.size - 2))
    return float(values[k] + (where - at[k]) / (at[k + 1] - at[k]) * (values[k + 1] - values[k]))

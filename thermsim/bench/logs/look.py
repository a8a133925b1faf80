"""A log's readings looked over: what no sensor can have read is dropped, what looks wrong is told."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from thermsim.bench.logs.cells import Truths
from thermsim.bench.logs.columns import Column
from thermsim.bench.logs.fallen import fallen
from thermsim.bench.logs.scan import counted
from thermsim.bench.logs.spikes import bursts, spikes
from thermsim.bench.logs.stuck import stuck
from thermsim.case.channels import MANY, dimensions_of, is_temperature
from thermsim.model.arrays import Floats, Ints

# SI and °C; beyond is no reading of a bench of electronics: common practice, no source
POSSIBLE = {
    "temperature": (-90.0, 400.0),
    "fraction": (-0.02, 3.0),
    "power": (-10.0, 1e5),
    "voltage": (-1e4, 1e4),
    "current": (-1e3, 1e3),
    "level": (-20.0, 160.0),
    "flow": (-1.0, 10.0),
    "pressure": (-1.1e5, 1e8),
}
Series = Sequence[tuple[Column, Floats]]  # columns of numbers with their readings, SI and °C


def impossible(channel: str, values: Floats) -> Truths:
    """Where a reading of this channel (SI, °C) is beyond what can be, as truth values."""
    low, high = POSSIBLE[dimensions_of(channel)[0]]
    with np.errstate(invalid="ignore"):
        found: Truths = (values < low) | (values > high)
    return found


def look_over(time: Floats, lines: Ints, series: Series, mended: list[str], doubts: list[str]) -> None:
    """Take out spikes and stuck readings that are beyond doubt (made NaN in place), and tell of all."""
    temperatures = [(column, values) for column, values in series if is_temperature(column.channel)]
    busy = np.zeros(time.size, dtype=bool)
    for column, values in series:
        if dimensions_of(column.channel)[0] in ("power", "current"):
            busy |= bursts(values)
    for column, values in temperatures:
        _spikes(time, lines, column, values, busy, mended, doubts)
    _stuck(lines, temperatures, mended, doubts)
    _fallen(time, lines, temperatures, doubts)


def _spikes(
    time: Floats, lines: Ints, column: Column, values: Floats, busy: Truths, mended: list[str], doubts: list[str]
) -> None:  # fmt: skip
    found = spikes(time, values, busy)
    for indices, told, end in ((found.dropped, mended, ": dropped"), (found.doubted, doubts, "")):
        if indices.size:
            first = int(indices[0])
            what = counted(indices.size, "spike")
            told.append(f'column "{column.header}": {what}, first {values[first]:.4g} °C in line {lines[first]}{end}')
    values[found.dropped] = np.nan


def _stuck(lines: Ints, temperatures: Series, mended: list[str], doubts: list[str]) -> None:
    for one in stuck([values for _, values in temperatures]):
        column, values = temperatures[one.column]
        level, line = values[one.first], lines[one.first]
        count = counted(one.behind - one.first, "reading")
        what = f'column "{column.header}": {count} at {level:.4g} °C from line {line} on'
        if one.certain:
            mended.append(f"{what}, stuck while others went on: dropped")
            values[one.first : one.behind] = np.nan
        else:
            doubts.append(f"{what} while others moved: is it stuck?")


def _fallen(time: Floats, lines: Ints, temperatures: Series, doubts: list[str]) -> None:
    """Parts and probes only: air and coolant may jump when something is switched."""
    warm = {column.header: values for column, values in temperatures if column.channel.startswith(("part.", "probe."))}
    rooms = [values for column, values in temperatures if column.channel in MANY]
    for header, index in fallen(time, warm, rooms[0] if rooms else None).items():
        doubts.append(f'column "{header}" falls towards the room at line {lines[index]} alone: did the probe come off?')

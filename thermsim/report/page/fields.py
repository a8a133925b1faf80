"""Temperature fields packed small for the page: a few frames of each sheet, in steps of 0.05 K, compressed.

Layout of a packed field, little-endian, shape (frames, rows, columns): 0 where there is no cell, else 1 + the steps
above the lowest temperature of its group; each frame less the one before, each column less the one before, modulo
65536; all low bytes, then all high bytes, by zlib in base64.
"""

from __future__ import annotations

import zlib
from base64 import b64encode
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, sqrt
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.report.figures import apart
from thermsim.store.result import Result, SheetField

STEP_K = 0.05
HIGHEST = 65534  # of the steps; 0 is kept for "no cell"


@dataclass(frozen=True)
class Fineness:
    """At most so many frames of at most so many cells a field."""

    frames: int
    cells: int


FINENESSES = (Fineness(25, 16_000), Fineness(25, 5_000), Fineness(16, 3_000), Fineness(10, 1_500), Fineness(6, 800))


def packed_fields(results: Mapping[str, Result], addresses: Sequence[str], budget: int) -> dict[str, Any]:
    """Fields of the sheets at these addresses under every option, as fine as `budget` (bytes) allows.

    "scales": coldest and hottest cell, °C, of options and of mishaps, each on one colour scale; "fields": of each
    option and address; "merged": whether cells or frames had to be fewer than the coarsest result's.
    """
    groups = apart(results)
    scales = {kind: _range(group.values(), addresses) for kind, group in groups.items()}
    low = {name: scales[kind][0] for kind, group in groups.items() for name in group}
    for fineness in FINENESSES:
        fields = {
            name: {a: packed(result.fields[a], fineness, low[name]) for a in addresses if a in result.fields}
            for name, result in results.items()
        }
        if sum(len(told["data"]) for sheets in fields.values() for told in sheets.values()) <= budget:
            break
    return {"step_k": STEP_K, "scales": scales, "fields": fields, "merged": fineness != FINENESSES[0]}


def packed(field: SheetField, fineness: Fineness, low: float) -> dict[str, Any]:
    """One field: grid lines in mm, times in s, the lowest temperature in °C, and the packed steps above it."""
    told = coarser(field, fineness.cells)
    chosen = telling_frames(told, fineness.frames)
    steps = np.rint((told.temperature[chosen] - low) / STEP_K) + 1
    values = np.where(np.isnan(steps), 0, np.clip(steps, 1, HIGHEST)).astype(np.uint16)
    change = values.copy()
    change[1:] -= values[:-1]
    change[:, :, 1:] -= change[:, :, :-1].copy()
    halves = (change & 255).astype(np.uint8).tobytes() + (change >> 8).astype(np.uint8).tobytes()
    return {
        "x_mm": rounded(1e3 * told.x_edges, 3),
        "y_mm": rounded(1e3 * told.y_edges, 3),
        "time_s": rounded(told.time[chosen], 1),
        "low_degc": low,
        "data": b64encode(zlib.compress(halves, 6)).decode("ascii"),
    }


def telling_frames(field: SheetField, count: int) -> Ints:
    """Indices of at most `count` frames, the first and last among them, most where the field changes most."""
    total = field.time.size
    if total <= count:
        return np.arange(total)
    change = np.nan_to_num(np.nanmax(np.abs(np.diff(field.temperature, axis=0)), axis=(1, 2)))
    passed = np.concatenate([[0.0], np.cumsum(change / max(change.sum(), 1e-9) + 0.5 / (total - 1))])
    wanted = np.linspace(0.0, passed[-1], count)
    return np.unique(np.abs(passed[:, None] - wanted).argmin(axis=0))


def coarser(field: SheetField, cells: int) -> SheetField:
    """The field on at most about so many cells: means over neighbours, weighted by area."""
    rows, columns = field.temperature.shape[1:]
    take = ceil(sqrt(rows * columns / cells))
    if take <= 1:
        return field
    ys, xs = np.arange(0, rows, take), np.arange(0, columns, take)
    area = np.outer(np.diff(field.y_edges), np.diff(field.x_edges))
    there = ~np.isnan(field.temperature)
    heat = np.where(there, field.temperature, 0.0) * area
    weight = there * area
    for at, axis in ((ys, 1), (xs, 2)):
        heat, weight = np.add.reduceat(heat, at, axis=axis), np.add.reduceat(weight, at, axis=axis)
    mean = np.where(weight > 0, heat / np.where(weight > 0, weight, 1.0), np.nan)
    x_edges, y_edges = np.append(field.x_edges[xs], field.x_edges[-1]), np.append(field.y_edges[ys], field.y_edges[-1])
    return replace(field, x_edges=x_edges, y_edges=y_edges, temperature=mean)


def rounded(values: Floats, digits: int) -> list[float]:
    """Plain numbers with few digits."""
    return [round(float(value), digits) for value in values]


def _range(results: Iterator[Result] | Any, addresses: Sequence[str]) -> tuple[float, float]:
    """Coldest and hottest cell, °C; any two where no result has a sheet."""
    frames = [result.fields[a].temperature for result in results for a in addresses if a in result.fields]
    low = min((float(np.nanmin(f)) for f in frames), default=0.0)
    high = max((float(np.nanmax(f)) for f in frames), default=low)
    return low, max(high, low + 1.0)

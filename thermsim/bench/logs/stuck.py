"""Sensors that stick: the same digits for long, while columns of the same resolution flicker on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import erf, sqrt

import numpy as np

from thermsim.model.arrays import Floats

LONG = 50  # readings: that many alike by chance is one in 10^7 where three in ten change
ALIKE = 0.3  # share of readings that change, of a quarter of the other columns at the least
SELDOM = 0.1  # share of changes elsewhere, below which a column is taken as repeated readings
FEWEST = 3  # other columns that must go on
BY_CHANCE = 1e-6  # that a column's own noise leaves it alike for so long
OUTLIERS = 0.02  # of its moves, left out of its noise
MOVED = 20.0  # steps of resolution that the others move, where only their moving tells


@dataclass(frozen=True)
class Stuck:
    """A stretch of readings alike, from the first on that did not change; `certain`: beyond doubt."""

    column: int
    first: int
    behind: int
    certain: bool


def stuck(columns: Sequence[Floats]) -> list[Stuck]:
    """Stretches where a temperature stuck, by its place among these columns of one log.

    A column is judged against those of its own resolution: where they change with every other reading or so, it
    does not stand still for long by chance, unless it is quieter than its digits elsewhere too, as a part whose fan
    is governed. A coarser column that stands still while others move is doubted only.
    """
    steps = [resolution(values) for values in columns]
    found = []
    for number, values in enumerate(columns):
        others = [k for k in range(len(columns)) if k != number]
        for first, behind in _still(values):
            if _repeated(values, first, behind):
                continue
            fine = [k for k in others if steps[k] and _as_fine(values, steps[number], float(steps[k] or 0.0))]
            changes = [_changing(columns[k][first:behind]) for k in fine]
            certain = (
                len(changes) >= FEWEST
                and float(np.quantile(changes, 0.25)) >= ALIKE
                and _too_long(values, steps[number], first, behind)
            )
            if certain or _left_behind(values, [columns[k] for k in others], steps[number], first, behind):
                found.append(Stuck(number, first, behind, certain))
    return found


def _repeated(values: Floats, first: int, behind: int) -> bool:
    """Whether a column seldom changes elsewhere either: read once in a while, and repeated in between."""
    elsewhere = np.concatenate((values[:first], values[behind:]))
    return elsewhere.size >= LONG and _changing(elsewhere) < SELDOM


def _too_long(values: Floats, step: float | None, first: int, behind: int) -> bool:
    """Whether its own noise elsewhere, in the middle of a digit at best, would hardly have left it alike."""
    elsewhere = np.concatenate((values[:first], values[behind:]))
    if elsewhere.size < LONG or step is None:
        return True  # it never shows any
    noise = _noise(elsewhere, step)
    within = erf(step / (2 * sqrt(2) * noise)) if noise > 0 else 1.0
    return within ** (behind - first) < BY_CHANCE


def _noise(values: Floats, step: float) -> float:
    """Standard deviation of the noise under the digits, from second differences, whose variance is six times its.

    The digits themselves give a variance of a twelfth of a step squared (GUM, F.2.2.1); between readings alike they
    give less, so for a quiet column this is too little rather than too much.
    """
    squares = np.diff(values, 2) ** 2
    squares = squares[np.isfinite(squares)]
    if not squares.size:
        return 0.0
    mean = float(np.mean(squares[squares <= np.quantile(squares, 1 - OUTLIERS)]))
    return sqrt(max(mean / 6 - step**2 / 12, 0.0))


def _still(values: Floats) -> list[tuple[int, int]]:
    """Stretches of at least `LONG` equal readings, missing ones breaking them: from the second on to past the last."""
    cuts = np.flatnonzero(np.diff(values) != 0) + 1  # NaN differs from anything
    edges = np.concatenate(([0], cuts, [values.size]))
    return [(int(a) + 1, int(b)) for a, b in pairwise(edges) if b - a >= LONG]


def resolution(values: Floats) -> float | None:
    """Smallest step from one reading to the next; None for a column that never changes."""
    moves = np.abs(np.diff(values))
    moves = moves[moves > 1e-9]
    return float(moves.min()) if moves.size else None


def _as_fine(values: Floats, own: float | None, other: float) -> bool:
    """Whether another column's resolution is this one's; one that never changes shows its own in its digits."""
    if own is not None:
        return 0.5 * own <= other <= 2 * own
    level = float(values[np.isfinite(values)][0]) / (10 * other)
    return abs(level - round(level)) > 0.02


def _changing(values: Floats) -> float:
    """Share of readings that differ from the one before."""
    moves = np.diff(values)
    moves = moves[np.isfinite(moves)]
    return float(np.mean(moves != 0)) if moves.size else 0.0


def _left_behind(values: Floats, others: list[Floats], own: float | None, first: int, behind: int) -> bool:
    """Whether most of the others moved far meanwhile, and this one had moved with them before."""
    step = own or 0.1
    spans = [_span(other[first:behind]) for other in others]
    moved = len(spans) >= FEWEST and float(np.median(spans)) > MOVED * step
    return moved and own is not None and _span(values[:first]) > MOVED * step


def _span(values: Floats) -> float:
    there = values[np.isfinite(values)]
    return float(np.ptp(there)) if there.size else 0.0

"""Shifted factors of K + C/τ, made when they are first asked for: by the flows there are, and for slow or fast heat."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import scipy.sparse as sp

from thermsim.model.arrays import Floats
from thermsim.model.operating import Conditions
from thermsim.model.system import Model, Strengths
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.factor import Factor, TooLarge
from thermsim.solve.ordering import layout_of

SHIFT = 1 / 72  # of the duration: the time constant a slow factor is best at
SHORTEST = 2.0  # s
FAST = 0.5  # s
SOON = 3.0  # s after a jump, up to which heat is fast
INSTANT = 0.02  # s, in which heat does not get from cell to cell, but to and from air, coolant and parts
AT_ONCE = 0.08  # s after a jump, up to which heat is instant
MOST = 8
KEPT_BYTES = 1.5e9  # of factors, besides the one in use
SWINGS, MOST_TIMES = 8, 12  # times at which inputs that swing, or jump often, are looked at


class TooManyPoles(Exception):
    """The flows change more often than factors are worth making."""


@dataclass
class Poles:
    """Factors at the flows of a time, temperatures and speeds those of a reference."""

    model: Model
    reference: Conditions
    capacity: Floats
    shift: float = 0.0
    solves: int = 0
    factorisations: int = 0  # those without conduction in the sheets cost next to nothing and do not count
    _made: int = 0
    _factors: dict[tuple[frozenset[str], float], Factor] = field(default_factory=dict)
    _diagonals: dict[frozenset[str], Floats] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.shift = max(SHIFT * self.model.case.spec.run.duration, SHORTEST)

    @property
    def temperature(self) -> Floats:
        """Temperatures of all nodes at the reference."""
        return self.reference.temperature[: self.model.node_count]

    def key(self, time: float, since: float) -> tuple[frozenset[str], float]:
        """Which factor is fit for a time that lies so long (s) after the last jump: the flows, and τ."""
        shift = INSTANT if since < AT_ONCE else FAST if since < SOON else self.shift
        return self.model.program.mishaps_at(time), shift

    def diagonal(self, time: float) -> Floats:
        """Diagonal of K at the flows of a time."""
        flows = self.model.program.mishaps_at(time)
        if flows not in self._diagonals:
            self._diagonals[flows] = self._square(time)[1]
        return self._diagonals[flows]

    def solve(self, right: Floats, time: float, since: float = np.inf) -> Floats:
        """(K + C/τ)⁻¹ of a heat vector."""
        key = self.key(time, since)
        if key not in self._factors:
            if self._made == MOST:
                raise TooManyPoles("the flows change too often")
            self._made += 1
            self.factorisations += key[1] != INSTANT
            while self._factors and sum(kept.bytes for kept in self._factors.values()) > KEPT_BYTES:
                del self._factors[next(iter(self._factors))]
            matrix, diagonal = self._square(time)
            matrix.data[self.model.pattern.diagonal] = diagonal + self.capacity / key[1]
            if key[1] == INSTANT:
                self._factors[key] = Factor(self._without_sheets(matrix))
            else:
                self._factors[key] = self._factor(matrix)
        self.solves += 1
        return self._factors[key].solve(right)

    def _factor(self, matrix: sp.csc_array) -> Factor:
        try:
            return Factor(matrix, layout_of(self.model))
        except TooLarge:  # with the memory of those kept
            if not self._factors:
                raise
            self._factors.clear()
            return Factor(matrix, layout_of(self.model))

    def _without_sheets(self, matrix: sp.csc_array) -> sp.csc_array:
        """A matrix without what joins cell to cell; their diagonals stay."""
        cell = np.zeros(self.model.node_count, dtype=bool)
        for sheet in self.model.site.sheets.values():
            cell[sheet.node[sheet.node >= 0]] = True
        entries = matrix.tocoo()
        keep = ~(cell[entries.row] & cell[entries.col]) | (entries.row == entries.col)
        return sp.csc_array((entries.data[keep], (entries.row[keep], entries.col[keep])), shape=matrix.shape)

    def _square(self, time: float) -> tuple[sp.csc_array, Floats]:
        model = self.model
        inputs = model.program.at(time, self.reference.speeds)
        with collect_ranges():
            strengths = model.strengths(model.conditions(self.temperature, inputs))
        matrix = model.square(model.matrix(strengths)).copy()
        return matrix, matrix.data[model.pattern.diagonal].copy()


def _telling_times(model: Model) -> list[float]:
    """Times with each set of mishaps, and of different given temperatures."""
    program, end = model.program, model.case.spec.run.duration
    stops = [0.0, *program.breaks, end]
    times = [0.5 * (a + b) for a, b in pairwise(stops)]
    if program.swings:
        times += [end * (k + 0.5) / SWINGS for k in range(SWINGS)]
    kinds = {(program.mishaps_at(time), tuple(program.at(time, {}).places.round(1))): time for time in times}
    found = list(kinds.values())
    return found[:: max(1, len(found) // MOST_TIMES)]


def examples(model: Model, states: list[Floats]) -> Iterator[Strengths]:
    """Strengths at the extremes of governed speeds, with each set of mishaps, at each of some states."""
    governors = model.case.spec.governor.values()
    extremes = [
        {device: getattr(table, name) for table in governors for device in table.drives}
        for name in ("min_speed", "max_speed")
    ]
    with collect_ranges():
        for time in _telling_times(model):
            for speeds in extremes if governors else extremes[:1]:
                inputs = model.program.at(time, speeds)
                for temperature in states:
                    yield model.strengths(model.conditions(temperature, inputs))

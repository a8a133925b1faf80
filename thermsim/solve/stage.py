"""One implicit stage: C (T − T₀)/s = carried + F(T), with the governors' answers, by modified Newton.

LU factors of C/s + K are kept by span `s`; as long as they shrink the error well they serve for any K near by.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from thermsim.model.arrays import Floats, Ints
from thermsim.model.program import Inputs
from thermsim.model.system import Model
from thermsim.solve.factor import Factor
from thermsim.solve.governors import GovernorLaw, GovernorState, speeds_of

MOST_ITERATIONS = 12
PATIENCE = 6  # iterations, after which slow progress is not worth a new factor
FIRST_GUESS, FASTEST, SLOWEST = 0.5, 1e-3, 0.9  # of the factor by which an iteration shrinks the error
SLOW = 0.5
SPEED_STEP = 1e-3  # for the response of the heat balance to a governed speed
FACTOR_BYTES = 3e9  # kept at most, besides the one in use


class NotConverged(Exception):
    """The stage did not settle; the step must be shorter."""


@dataclass(frozen=True)
class Stage:
    """What is to be solved: from `start` (°C) over `span` (s), with `carried` watts from the stages before.

    `known`: where the governors stand without this stage's own rate. `time` is the stage's end; for `segment`
    see `Program.at`.
    """

    start: Floats
    carried: Floats
    known: tuple[GovernorState, ...]
    span: float
    time: float
    segment: float


@dataclass(frozen=True)
class Solution:
    """A solved stage: temperatures (°C), governors, inputs, and K at the iteration before the last correction."""

    temperature: Floats
    governors: tuple[GovernorState, ...]
    inputs: Inputs
    matrix: sp.csc_array


@dataclass(frozen=True)
class Border:
    """Rank-one corrections for the governors: the stage's Newton matrix is A − Σ c_k σ_k e_kᵀ."""

    columns: Floats  # A⁻¹ c, shape (governors, nodes)
    slopes: Floats  # change of speed per kelvin
    nodes: Ints  # each governor's sensor

    def correct(self, step: Floats) -> Floats:
        """The Newton step with the governors' answer included (Woodbury)."""
        small = np.eye(self.slopes.size) - self.columns[:, self.nodes].T * self.slopes[:, None]
        speeds = np.linalg.solve(small, self.slopes * step[self.nodes])
        corrected: Floats = step + speeds @ self.columns
        return corrected


class StageSolver:
    """Solves stages of one model until corrections fall below `settled` (K)."""

    def __init__(self, model: Model, laws: list[GovernorLaw], settled: float) -> None:
        self.model = model
        self.laws = laws
        self.settled = settled
        self.factorisations = 0
        self.solves = 0
        self._factors: OrderedDict[float, Factor] = OrderedDict()
        self._contraction: dict[float, float] = {}
        self._once = not model.pattern.moving and not laws  # linear: the first correction is exact

    def solve(self, stage: Stage, guess: Floats) -> Solution:
        """Temperatures, governors and inputs at the stage's end. Raises `NotConverged`."""
        storage = self.model.capacity / stage.span
        temperature, last = guess, np.inf
        border: Border | None = None
        for iteration in range(MOST_ITERATIONS):
            governors = tuple(
                law.advance(known, stage.span, law.read(temperature))
                for law, known in zip(self.laws, stage.known, strict=True)
            )
            inputs, matrix, surplus = self._balance(stage, temperature, governors)
            factor = self.factor(stage.span, matrix)
            step = self.apply(factor, surplus + stage.carried - storage * (temperature - stage.start))
            if self.laws:
                border = border or self._border(stage, factor, temperature, governors, surplus)
                step = border.correct(step)
            temperature = temperature + step
            size = float(np.abs(step).max())
            if self._once or self._remaining(stage.span, size, last) < self.settled:
                return Solution(temperature, governors, inputs, matrix)
            if size > SLOW * last and size > self.settled:
                if iteration > PATIENCE:
                    raise NotConverged
                self._factors.pop(stage.span, None)
                self._contraction.pop(stage.span, None)
                border = None
            last = size
        raise NotConverged

    def _balance(
        self, stage: Stage, temperature: Floats, governors: tuple[GovernorState, ...]
    ) -> tuple[Inputs, sp.csc_array, Floats]:
        model = self.model
        inputs = model.program.at(stage.time, speeds_of(self.laws, list(governors)), stage.segment)
        matrix = model.matrix(model.strengths(model.conditions(temperature, inputs)))
        return inputs, matrix, model.imbalance(matrix, temperature, inputs)

    def _remaining(self, span: float, size: float, last: float) -> float:
        """The error left (K) after a correction of a size, from how fast corrections have been shrinking."""
        rate = self._contraction.get(span, FIRST_GUESS)
        if np.isfinite(last) and last > 0:
            rate = min(max(size / last, FASTEST), SLOWEST)
            self._contraction[span] = rate
        return size * rate / (1 - rate)

    def _border(
        self, stage: Stage, factor: Factor, temperature: Floats, governors: tuple[GovernorState, ...], surplus: Floats
    ) -> Border:
        """Response of the stage to each governed speed."""
        columns, slopes, nodes = [], [], []
        for k, law in enumerate(self.laws):
            faster = GovernorState(governors[k].speed + SPEED_STEP, governors[k].integral, governors[k].on)
            moved = (*governors[:k], faster, *governors[k + 1 :])
            change = (self._balance(stage, temperature, moved)[2] - surplus) / SPEED_STEP
            columns.append(self.apply(factor, change))
            slopes.append(law.slope(stage.known[k], stage.span, law.read(temperature)))
            nodes.append(law.hottest(temperature))
        return Border(np.array(columns), np.array(slopes), np.array(nodes))

    def apply(self, factor: Factor, right: Floats) -> Floats:
        """A solve, counted."""
        self.solves += 1
        return factor.solve(right)

    def factor(self, span: float, matrix: sp.csc_array | None = None) -> Factor:
        """The kept factor for a span, made from K if there is none."""
        if span in self._factors:
            self._factors.move_to_end(span)
            return self._factors[span]
        assert matrix is not None
        square = self.model.square(matrix).copy()
        square.data[self.model.pattern.diagonal] += self.model.capacity / span
        self.factorisations += 1
        while self._factors and sum(kept.bytes for kept in self._factors.values()) > FACTOR_BYTES:
            self._factors.popitem(last=False)
        self._factors[span] = Factor(square)
        return self._factors[span]

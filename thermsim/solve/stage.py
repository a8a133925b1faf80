"""One implicit stage: C (x − x₀)/s = carried + heat(x), with the governors' answers, by modified Newton.

LU factors of C/s + K are kept by span `s`; as long as they shrink the error well they serve for any K near by.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.program import Inputs
from thermsim.solve.dynamics import Dynamics, Solver
from thermsim.solve.factor import TooLarge
from thermsim.solve.governors import GovernorState, Sensor, speeds_of

MOST_ITERATIONS = 12
PATIENCE = 6  # iterations, after which slow progress is not worth a new factor
FASTEST, SLOWEST = 1e-3, 0.9  # of the factor by which an iteration shrinks the error
SLOW = 0.5
SPEED_STEP = 1e-3  # for the response of the heat balance to a governed speed
FACTOR_BYTES = 3e9  # kept at most, besides the one in use


class NotConverged(Exception):
    """The stage did not settle; the step must be shorter."""


@dataclass(frozen=True)
class Stage:
    """What is to be solved: from the state `start` over `span` (s), with `carried` watts from the stages before.

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
    """A solved stage: state, governors, inputs, and the operator before the last correction."""

    x: Floats
    governors: tuple[GovernorState, ...]
    inputs: Inputs
    operator: Any


@dataclass(frozen=True)
class Border:
    """Rank-one corrections for the governors: the stage's Newton matrix is A − Σ c_k σ_k e_kᵀ."""

    columns: Floats  # A⁻¹ c, shape (governors, unknowns)
    slopes: Floats  # change of speed per kelvin
    sensors: list[tuple[Sensor, int]]  # each governor's, and which of its places is read

    def _read(self, change: Floats) -> Floats:
        return np.array([sensor.changes(change)[k] for sensor, k in self.sensors])

    def correct(self, step: Floats) -> Floats:
        """The Newton step with the governors' answer included (Woodbury)."""
        answers = np.array([self._read(column) for column in self.columns]).T
        small = np.eye(self.slopes.size) - answers * self.slopes[:, None]
        speeds = np.linalg.solve(small, self.slopes * self._read(step))
        corrected: Floats = step + speeds @ self.columns
        return corrected


def _remaining(size: float, last: float) -> float:
    """The error left (K) after a correction of a size, from how much smaller it is than the one before."""
    if not np.isfinite(last):
        return size  # one correction tells nothing of how fast they shrink
    rate = min(max(size / last, FASTEST), SLOWEST) if last > 0 else FASTEST
    return size * rate / (1 - rate)


class StageSolver:
    """Solves stages until corrections fall below `settled` (K)."""

    def __init__(self, dynamics: Dynamics, settled: float) -> None:
        self.dynamics = dynamics
        self.laws = dynamics.laws
        self.settled = settled
        self.factorisations = 0
        self.solves = 0
        self._factors: OrderedDict[float, Solver] = OrderedDict()
        self._marks: dict[float, Floats] = {}

    def solve(self, stage: Stage, guess: Floats) -> Solution:
        """State, governors and inputs at the stage's end. Raises `NotConverged`."""
        try:
            return self._iterate(stage, guess)
        except NotConverged:  # a factor made elsewhere may be to blame
            if self._factors.pop(stage.span, None) is None:
                raise
        return self._iterate(stage, guess)

    def _iterate(self, stage: Stage, guess: Floats) -> Solution:
        storage = self.dynamics.capacity / stage.span
        x, last = guess, np.inf
        border: Border | None = None
        for iteration in range(MOST_ITERATIONS):
            governors = tuple(
                law.advance(known, stage.span, law.read(x)) for law, known in zip(self.laws, stage.known, strict=True)
            )
            inputs, operator, surplus = self._balance(stage, x, governors)
            factor = self.factor(stage.span, operator)
            step = self.apply(factor, surplus + stage.carried - storage * (x - stage.start))
            if self.laws:
                border = border or self._border(stage, factor, x, governors, surplus)
                step = border.correct(step)
            x = x + step
            size = self.dynamics.kelvin(step)
            if self.dynamics.linear or _remaining(size, last) < self.settled:
                return Solution(x, governors, inputs, operator)
            if size > SLOW * last:
                if iteration > PATIENCE:
                    break
                self._factors.pop(stage.span, None)
                border = None
            last = size
        raise NotConverged

    def _balance(self, stage: Stage, x: Floats, governors: tuple[GovernorState, ...]) -> tuple[Inputs, Any, Floats]:
        program = self.dynamics.model.program
        inputs = program.at(stage.time, speeds_of(self.laws, list(governors)), stage.segment)
        return inputs, *self.dynamics.balance(x, inputs)

    def _border(
        self, stage: Stage, factor: Solver, x: Floats, governors: tuple[GovernorState, ...], surplus: Floats
    ) -> Border:
        """Response of the stage to each governed speed."""
        columns, slopes, sensors = [], [], []
        for k, law in enumerate(self.laws):
            faster = GovernorState(governors[k].speed + SPEED_STEP, governors[k].integral, governors[k].on)
            moved = (*governors[:k], faster, *governors[k + 1 :])
            change = (self._balance(stage, x, moved)[2] - surplus) / SPEED_STEP
            columns.append(self.apply(factor, change))
            slopes.append(law.slope(stage.known[k], stage.span, law.read(x)))
            sensors.append((law.sensor, law.hottest(x)))
        return Border(np.array(columns), np.array(slopes), sensors)

    def apply(self, factor: Solver, right: Floats) -> Floats:
        """A solve, counted."""
        self.solves += 1
        return factor.solve(right)

    def factor(self, span: float, operator: Any = None) -> Solver:
        """The kept factor for a span, made from an operator if there is none."""
        kept = self._factors.get(span)
        if kept and (operator is None or not self.dynamics.strayed(self._marks[span], operator, span)):
            self._factors.move_to_end(span)
            return kept
        assert operator is not None
        self.factorisations += 1
        while self._factors and sum(kept.bytes for kept in self._factors.values()) > FACTOR_BYTES:
            self._factors.popitem(last=False)
        try:
            self._factors[span] = self.dynamics.factor(operator, span)
        except TooLarge:  # with the memory of those kept
            if not self._factors:
                raise
            self._factors.clear()
            self._factors[span] = self.dynamics.factor(operator, span)
        self._marks[span] = self.dynamics.mark(operator)
        return self._factors[span]

"""TR-BDF2: one step with an error estimate.

Bank et al. 1985; Hosea & Shampine 1996, in its stiffly accurate three-stage form: second order, L-stable,
both implicit stages with the same matrix C/(d h) + K.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.dynamics import Dynamics
from thermsim.solve.governors import GovernorRate, GovernorState, speeds_of
from thermsim.solve.stage import Solution, Stage, StageSolver

GAMMA = 2 - sqrt(2)
D = GAMMA / 2
W = sqrt(2) / 4
# difference between the step and its embedded third-order companion, as weights of the three stage rates
ERROR = (W - (1 - W) / 3, W - (3 * W + 1) / 3, D - D / 3)

SPEED_WEIGHT = 10.0  # K of error that an error of the whole speed range counts as
SETTLED = 2e-3  # of the tolerance: where iterations within a stage may stop


@dataclass(frozen=True)
class State:
    """Where a history stands: time (s), unknowns (see `Dynamics`), heat left to store (W), governors."""

    time: float
    x: Floats
    surplus: Floats
    governors: tuple[GovernorState, ...]
    supplied: float  # W into all nodes
    rejected: float  # W out of all nodes


@dataclass(frozen=True)
class Step:
    """An accepted step from one state to the next; between them the unknowns follow a cubic."""

    first: State
    last: State
    slopes: tuple[Floats, Floats]  # per second at either end; the chord's slope where a node has no capacity
    supplied: float  # J over the step
    rejected: float  # J over the step
    stored: float  # J over the step

    def at(self, time: float, nodes: Ints | slice = slice(None)) -> Floats:
        """The unknowns at a time within the step, shape of `nodes` (all by default)."""
        span = self.last.time - self.first.time
        u = (time - self.first.time) / span
        low, high = self.first.x[nodes], self.last.x[nodes]
        start, end = span * self.slopes[0][nodes], span * self.slopes[1][nodes]
        chord = high - low
        value: Floats = low + u * (chord + (1 - u) * ((1 - u) * (start - chord) - u * (end - chord)))
        return value

    def governors_at(self, time: float) -> tuple[GovernorState, ...]:
        """Governor states at a time within the step, on the chord."""
        u = (time - self.first.time) / (self.last.time - self.first.time)
        return tuple(
            GovernorState(a.speed + u * (b.speed - a.speed), a.integral + u * (b.integral - a.integral), a.on)
            for a, b in zip(self.first.governors, self.last.governors, strict=True)
        )


Governors = tuple[GovernorState, ...]
Rates = list[GovernorRate]


class Stepper:
    """Takes steps of given length, with an error estimate."""

    def __init__(self, dynamics: Dynamics, tolerance: float, settled: float = SETTLED) -> None:
        self.dynamics = dynamics
        self.laws = dynamics.laws
        self.stages = StageSolver(dynamics, settled * tolerance)
        self.has_capacity = dynamics.capacity > 0

    def state(self, time: float, x: Floats, governors: Governors, segment: float) -> State:
        """A state with its heat balance, massless nodes put into balance first."""
        dynamics = self.dynamics
        inputs = dynamics.model.program.at(time, speeds_of(self.laws, list(governors)), segment)
        x = dynamics.settle(x, inputs, self.stages.settled)
        operator, left = dynamics.balance(x, inputs)
        surplus = np.where(self.has_capacity, left, 0.0)
        return self._state(time, surplus, Solution(x, governors, inputs, operator))

    def _state(self, time: float, surplus: Floats, solution: Solution) -> State:
        supplied = solution.inputs.supplied
        left = self.dynamics.watts(self.dynamics.left(solution.operator, solution.x, solution.inputs))
        return State(time, solution.x, surplus, solution.governors, supplied, supplied - left)

    def step(self, first: State, length: float, segment: float) -> tuple[Step, float]:
        """One step and its error estimate (K, largest over the nodes). `segment`: see `Program.at`."""
        with collect_ranges():  # what is out of range only on the way is of no interest
            return self._step(first, length, segment)

    def _step(self, first: State, length: float, segment: float) -> tuple[Step, float]:
        span = D * length
        begin = self._rates(first)
        # to γ of the step by the trapezoidal rule
        known = moved(first.governors, (begin, span))
        time = first.time + GAMMA * length
        middle = self._solve(Stage(first.x, first.surplus, known, span, time, segment), first.x)
        between = rates_from(known, middle.governors, span)
        # then to its end by the second-order backward difference
        known = moved(first.governors, (begin, W * length), (between, W * length))
        carried = W / D * (first.surplus + middle.surplus)
        time = first.time + length
        guess = first.x + (middle.x - first.x) / GAMMA
        last = self._solve(Stage(first.x, carried, known, span, time, segment), guess)
        error = max(
            self._missed_kelvin(first, middle, last, span),
            self._missed_speed(length, begin, between, rates_from(known, last.governors, span)),
        )
        return self._joined(first, middle, last), error

    def _solve(self, stage: Stage, guess: Floats) -> State:
        solution = self.stages.solve(stage, guess)
        # the stage's own equation gives the rate, so that stored heat closes to rounding
        storage = self.dynamics.capacity / stage.span
        surplus = np.where(self.has_capacity, storage * (solution.x - stage.start) - stage.carried, 0.0)
        return self._state(stage.time, surplus, solution)

    def _missed_kelvin(self, first: State, middle: State, last: State, span: float) -> float:
        """Difference from the embedded third-order step, K, damped where the system is stiff."""
        blame = ERROR[0] * first.surplus + ERROR[1] * middle.surplus + ERROR[2] * last.surplus
        if not blame.any():
            return 0.0
        return self.dynamics.kelvin(self.stages.apply(self.stages.factor(span), blame / D))

    def _missed_speed(self, length: float, begin: Rates, between: Rates, end: Rates) -> float:
        """The same for the governed speeds, as kelvin."""
        missed = [
            length * abs(ERROR[0] * a.speed + ERROR[1] * b.speed + ERROR[2] * c.speed) / (law.table.max_speed or 1.0)
            for law, a, b, c in zip(self.laws, begin, between, end, strict=True)
        ]
        return SPEED_WEIGHT * max(missed, default=0.0)

    def _joined(self, first: State, middle: State, last: State) -> Step:
        length = last.time - first.time
        supplied, rejected = (
            length * (W * getattr(first, rate) + W * getattr(middle, rate) + D * getattr(last, rate))
            for rate in ("supplied", "rejected")
        )
        chord = (last.x - first.x) / length
        heavy = np.where(self.has_capacity, self.dynamics.capacity, 1.0)
        start, end = (np.where(self.has_capacity, state.surplus / heavy, chord) for state in (first, last))
        stored = self.dynamics.joules(last.x - first.x)
        return Step(first, last, (start, end), supplied, rejected, stored)

    def _rates(self, state: State) -> Rates:
        return [law.rate(governor, law.read(state.x)) for law, governor in zip(self.laws, state.governors, strict=True)]


def moved(start: Governors, *by: tuple[Rates, float]) -> Governors:
    """Governors moved on by rates, each over its own time."""
    states = list(start)
    for rates, time in by:
        states = [state.plus(rate, time) for state, rate in zip(states, rates, strict=True)]
    return tuple(states)


def rates_from(known: Governors, reached: Governors, span: float) -> Rates:
    """The rates a stage had, from where it started and what it reached."""
    return [
        GovernorRate((after.speed - before.speed) / span, (after.integral - before.integral) / span)
        for before, after in zip(known, reached, strict=True)
    ]

"""TR-BDF2 on the full system: one step with an error estimate, and the factors it reuses.

Bank et al. 1985; Hosea & Shampine 1996, in its stiffly accurate three-stage form: second order, L-stable,
both implicit stages with the same matrix C/(d h) + K.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from math import sqrt

import numpy as np
import scipy.sparse as sp

from thermsim.model.arrays import Floats, Ints
from thermsim.model.program import Inputs
from thermsim.model.system import Model
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.factor import Factor
from thermsim.solve.governors import GovernorLaw, GovernorRate, GovernorState, speeds_of

GAMMA = 2 - sqrt(2)
D = GAMMA / 2
W = sqrt(2) / 4
# difference between the step and its embedded third-order companion, as weights of the three stage rates
ERROR = (W - (1 - W) / 3, W - (3 * W + 1) / 3, D - D / 3)

MOST_ITERATIONS = 12
SPEED_WEIGHT = 10.0  # K of error that an error of the whole speed range counts as
SPEED_STEP = 1e-3  # for the response of the heat balance to a governed speed


@dataclass(frozen=True)
class State:
    """Where a history stands: time (s), temperatures (°C, shape (nodes,)), heat left to store (W), governors."""

    time: float
    temperature: Floats
    surplus: Floats
    governors: tuple[GovernorState, ...]
    supplied: float  # W into all nodes
    rejected: float  # W out of all nodes


@dataclass(frozen=True)
class Step:
    """An accepted step from one state to the next; between them temperatures follow a cubic."""

    first: State
    last: State
    slopes: tuple[Floats, Floats]  # K/s at either end; the chord's slope where a node has no capacity
    supplied: float  # J over the step
    rejected: float  # J over the step
    stored: float  # J over the step

    def at(self, time: float, nodes: Ints | slice = slice(None)) -> Floats:
        """Temperatures at a time within the step, shape of `nodes` (all by default)."""
        span = self.last.time - self.first.time
        u = (time - self.first.time) / span
        low, high = self.first.temperature[nodes], self.last.temperature[nodes]
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


class NotConverged(Exception):
    """The stage equations did not settle; the step must be shorter."""


class Stepper:
    """Takes steps of given length; keeps the LU factors of the lengths last used, `most_factors` of them."""

    def __init__(self, model: Model, laws: list[GovernorLaw], tolerance: float, most_factors: int = 8) -> None:
        self.model = model
        self.laws = laws
        self.settled = 2e-3 * tolerance
        self.has_capacity = model.capacity > 0
        self.factors: OrderedDict[float, Factor] = OrderedDict()
        self.most_factors = most_factors
        self.factorisations = 0
        self.solves = 0
        self._contraction: dict[float, float] = {}
        self._linear = not model.pattern.moving

    def state(self, time: float, temperature: Floats, governors: tuple[GovernorState, ...], segment: float) -> State:
        """A state with its heat balance, massless nodes put into balance first."""
        model = self.model
        inputs = model.program.at(time, speeds_of(self.laws, list(governors)), segment)
        temperature = temperature.copy()
        light = np.flatnonzero(~self.has_capacity)
        for _ in range(20 if light.size else 0):
            matrix = model.matrix(model.strengths(model.conditions(temperature, inputs)))
            left = model.imbalance(matrix, temperature, inputs)[light]
            step = Factor(model.square(matrix)[light][:, light]).solve(left)
            temperature[light] += step
            if np.abs(step).max() < self.settled:
                break
        matrix = model.matrix(model.strengths(model.conditions(temperature, inputs)))
        surplus = np.where(self.has_capacity, model.imbalance(matrix, temperature, inputs), 0.0)
        return self._made(time, temperature, surplus, governors, inputs, matrix)

    def _made(
        self, time: float, temperature: Floats, surplus: Floats, governors: tuple[GovernorState, ...],
        inputs: Inputs, matrix: sp.csc_array,
    ) -> State:  # fmt: skip
        supplied = float(inputs.power.sum())
        left = float(self.model.imbalance(matrix, temperature, inputs).sum())
        return State(time, temperature, surplus, governors, supplied, supplied - left)

    def step(self, first: State, length: float, segment: float) -> tuple[Step, float]:
        """One step and its error estimate (K, largest over the nodes). `segment`: see `Program.at`."""
        with collect_ranges():  # what is out of range only on the way is of no interest
            return self._step(first, length, segment)

    def _step(self, first: State, length: float, segment: float) -> tuple[Step, float]:
        capacity = self.model.capacity
        span = D * length
        rates0 = self._rates(first)
        middle = self._stage(
            first, first.temperature, first.surplus, self._known(first.governors, [rates0], [span]),
            first.time + GAMMA * length, length, segment,
        )  # fmt: skip
        rates1 = [
            GovernorRate((m.speed - k.speed) / span, (m.integral - k.integral) / span)
            for m, k in zip(middle.governors, self._known(first.governors, [rates0], [span]), strict=True)
        ]
        guess = first.temperature + (middle.temperature - first.temperature) / GAMMA
        known = self._known(first.governors, [rates0, rates1], [W * length, W * length])
        carried = W / D * (first.surplus + middle.surplus)
        last = self._stage(first, guess, carried, known, first.time + length, length, segment)
        blame = ERROR[0] * first.surplus + ERROR[1] * middle.surplus + ERROR[2] * last.surplus
        error = float(np.abs(self._factor(length).solve(blame / D)).max()) if blame.any() else 0.0
        self.solves += 1
        for law, begin, between, rest, end in zip(self.laws, rates0, rates1, known, last.governors, strict=True):
            rate = (end.speed - rest.speed) / span
            missed = length * (ERROR[0] * begin.speed + ERROR[1] * between.speed + ERROR[2] * rate)
            error = max(error, SPEED_WEIGHT * abs(missed) / (law.table.max_speed or 1.0))
        supplied, rejected = (
            length * (W * getattr(first, rate) + W * getattr(middle, rate) + D * getattr(last, rate))
            for rate in ("supplied", "rejected")
        )
        stored = float(capacity @ (last.temperature - first.temperature))
        chord = (last.temperature - first.temperature) / length
        heavy = np.where(self.has_capacity, capacity, 1.0)
        slopes = tuple(np.where(self.has_capacity, state.surplus / heavy, chord) for state in (first, last))
        return Step(first, last, (slopes[0], slopes[1]), supplied, rejected, stored), error

    def _rates(self, state: State) -> list[GovernorRate]:
        return [
            law.rate(governor, law.read(state.temperature))
            for law, governor in zip(self.laws, state.governors, strict=True)
        ]

    @staticmethod
    def _known(
        start: tuple[GovernorState, ...], rates: list[list[GovernorRate]], spans: list[float]
    ) -> list[GovernorState]:
        known = list(start)
        for rate, span in zip(rates, spans, strict=True):
            known = [state.plus(r, span) for state, r in zip(known, rate, strict=True)]
        return known

    def _stage(
        self, first: State, guess: Floats, carried: Floats, known: list[GovernorState],
        time: float, length: float, segment: float,
    ) -> State:  # fmt: skip
        """Solve C (T − T_first)/(d h) = carried + F(T) by modified Newton on a kept factor."""
        model, span = self.model, D * length
        storage = model.capacity / span
        temperature = guess.copy()
        last = np.inf
        border: Border | None = None
        for iteration in range(MOST_ITERATIONS):
            governors = [
                law.advance(state, span, law.read(temperature)) for law, state in zip(self.laws, known, strict=True)
            ]
            inputs = model.program.at(time, speeds_of(self.laws, governors), segment)
            matrix = model.matrix(model.strengths(model.conditions(temperature, inputs)))
            surplus = model.imbalance(matrix, temperature, inputs)
            factor = self._factor(length, matrix)
            right = surplus + carried - storage * (temperature - first.temperature)
            step = factor.solve(right)
            self.solves += 1
            if self.laws:
                if border is None:
                    border = self._border(factor, temperature, time, known, governors, span, segment, surplus)
                step = border.correct(step)
            temperature = temperature + step
            size = float(np.abs(step).max())
            rate = self._contraction.get(length, 0.5)
            if iteration and last > 0:
                rate = self._contraction[length] = min(max(size / last, 1e-3), 0.9) if size < last else 0.9
                if size > 0.5 * last and size > self.settled:
                    if iteration > 6:
                        raise NotConverged
                    self._forget(length)
                    border = None
            if size * rate / (1 - rate) < self.settled or (self._linear and not self.laws):
                break
            last = size
        else:
            raise NotConverged
        # the stage's own equation gives the rate, so that stored heat closes to rounding
        surplus = np.where(self.has_capacity, storage * (temperature - first.temperature) - carried, 0.0)
        return self._made(time, temperature, surplus, tuple(governors), inputs, matrix)

    def _border(
        self, factor: Factor, temperature: Floats, time: float, known: list[GovernorState],
        governors: list[GovernorState], span: float, segment: float, surplus: Floats,
    ) -> Border:  # fmt: skip
        """Response of the stage to each governed speed (rank-one terms of the Newton matrix)."""
        model = self.model
        columns, slopes, nodes = [], [], []
        for k, law in enumerate(self.laws):
            moved = list(governors)
            moved[k] = GovernorState(governors[k].speed + SPEED_STEP, governors[k].integral, governors[k].on)
            inputs = model.program.at(time, speeds_of(self.laws, moved), segment)
            matrix = model.matrix(model.strengths(model.conditions(temperature, inputs)))
            change = (model.imbalance(matrix, temperature, inputs) - surplus) / SPEED_STEP
            columns.append(factor.solve(change))
            self.solves += 1
            slopes.append(law.slope(known[k], span, law.read(temperature)))
            nodes.append(law.hottest(temperature))
        return Border(np.array(columns), np.array(slopes), np.array(nodes))

    def _factor(self, length: float, matrix: sp.csc_array | None = None) -> Factor:
        if length in self.factors:
            self.factors.move_to_end(length)
            return self.factors[length]
        assert matrix is not None
        square = self.model.square(matrix).copy()
        square.data[self.model.pattern.diagonal] += self.model.capacity / (D * length)
        self.factors[length] = Factor(square)
        self.factorisations += 1
        while len(self.factors) > self.most_factors:
            self.factors.popitem(last=False)
        return self.factors[length]

    def _forget(self, length: float) -> None:
        self.factors.pop(length, None)
        self._contraction.pop(length, None)


@dataclass(frozen=True)
class Border:
    """Rank-one corrections for the governors: the stage matrix is A − Σ c_k σ_k e_kᵀ."""

    columns: Floats  # A⁻¹ c, shape (governors, nodes)
    slopes: Floats  # change of speed per kelvin
    nodes: Ints  # each governor's sensor

    def correct(self, step: Floats) -> Floats:
        """The Newton step with the governors' answer included (Woodbury)."""
        small = np.eye(self.slopes.size) - self.columns[:, self.nodes].T * self.slopes[:, None]
        speeds = np.linalg.solve(small, self.slopes * step[self.nodes])
        corrected: Floats = step + speeds @ self.columns
        return corrected

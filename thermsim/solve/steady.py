"""Steady states: nonlinear, with the governors where they settle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from thermsim.model.links import Floats
from thermsim.model.operating import Conditions
from thermsim.model.program import Inputs
from thermsim.model.system import Model, Strengths
from thermsim.solve.factor import Factor, SolveFailed
from thermsim.solve.governors import GovernorLaw, governor_laws

SETTLED = 1e-7  # K, the last correction of a steady state
SLOW = 0.35  # a stale factor that shrinks the correction by less than this is made anew
MOST_ITERATIONS = 200
ROUNDS = 30


@dataclass(frozen=True)
class Steady:
    """A steady state: node temperatures (°C), inputs, conditions, governed speeds, and the heat left over (W)."""

    temperature: Floats
    inputs: Inputs
    conditions: Conditions
    strengths: Strengths
    speeds: dict[str, float]
    residual: float
    factorisations: int
    settles: bool = True


class SteadySolver:
    """Finds steady states of a model by modified Newton steps, keeping its factor from one to the next."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.factor: Factor | None = None
        self.factorisations = 0

    def at_speeds(
        self, time: float, speeds: Mapping[str, float], guess: Floats | None = None
    ) -> tuple[Floats, Inputs]:
        """Steady temperatures under the inputs of a time, governed speeds held."""
        model = self.model
        inputs = model.program.at(time, speeds)
        temperature = model.start() if guess is None else guess.copy()
        if guess is None:
            self.factor = None
        last, damping = np.inf, 1.0
        for _ in range(MOST_ITERATIONS):
            matrix = model.matrix(model.strengths(model.conditions(temperature, inputs)))
            if self.factor is None:
                self.factor = Factor(model.square(matrix))
                self.factorisations += 1
                last = np.inf
            step = self.factor.solve(model.imbalance(matrix, temperature, inputs))
            size = float(np.abs(step).max(initial=0.0))
            if size > last:
                damping = max(damping / 2, 0.1)
            temperature += damping * step
            if size < SETTLED:
                return temperature, inputs
            if size > SLOW * last and size > 1e-3:
                self.factor = None
            last = size
        if last < 1e-4:
            return temperature, inputs
        raise SolveFailed(f"the steady state did not settle: the last correction was {last:.3g} K")

    def solve(self, time: float, guess: Floats | None = None) -> Steady:
        """Steady state under the inputs of a time, each governor at the speed its law settles on."""
        laws = governor_laws(self.model)
        speeds = {device: law.start().speed for law in laws for device in law.table.drives}
        temperature = guess
        settles = True
        for _ in range(ROUNDS if len(laws) > 1 else 1):
            before = dict(speeds)
            for law in laws:
                speed, temperature, fits = self._balance(law, time, speeds, temperature)
                speeds |= dict.fromkeys(law.table.drives, speed)
                settles &= fits
            if all(abs(speeds[device] - before[device]) < 1e-7 for device in speeds):
                break
        temperature, inputs = self.at_speeds(time, speeds, temperature)
        now = self.model.conditions(temperature, inputs)
        strengths = self.model.strengths(now)
        left = float(self.model.imbalance(self.model.matrix(strengths), temperature, inputs).sum())
        return Steady(temperature, inputs, now, strengths, speeds, left, self.factorisations, settles)

    def _balance(
        self, law: GovernorLaw, time: float, speeds: Mapping[str, float], guess: Floats | None
    ) -> tuple[float, Floats, bool]:
        """Speed at which a governor rests, the other speeds held; False if it never rests (a switch)."""
        table = law.table
        state = {"temperature": guess}

        def gap(speed: float) -> float:
            state["temperature"], _ = self.at_speeds(
                time, {**speeds, **dict.fromkeys(table.drives, speed)}, state["temperature"]
            )
            reading = law.read(state["temperature"])
            if table.law == "hold":
                assert table.set_point is not None
                return reading - table.set_point
            return law.demand(reading, speed, on=speed > table.min_speed) - speed

        def found(speed: float) -> tuple[float, Floats, bool]:
            gap(speed)
            assert state["temperature"] is not None
            return speed, state["temperature"], True

        low, high = table.min_speed, table.max_speed
        if table.law == "switch":
            return self._rest_of_switch(law, found)
        if gap(low) <= 0:
            return found(low)
        if gap(high) >= 0:
            return found(high)
        return found(float(brentq(gap, low, high, xtol=1e-9, rtol=1e-10)))

    def _rest_of_switch(self, law: GovernorLaw, found) -> tuple[float, Floats, bool]:  # type: ignore[no-untyped-def]
        """A switch rests only where its own speed keeps it from being thrown; else it cycles."""
        table = law.table
        low = found(table.min_speed)
        if law.read(low[1]) <= (table.on_above or 0.0):
            return low  # type: ignore[no-any-return]
        high = found(table.max_speed)
        rests = law.read(high[1]) >= (table.off_below or 0.0)
        return high[0], high[1], rests


def solve_steady(model: Model, time: float = 0.0, guess: Floats | None = None) -> Steady:
    """Steady state of a model under the inputs of a time."""
    return SteadySolver(model).solve(time, guess)

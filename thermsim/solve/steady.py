"""Steady states: nonlinear, with the governors where they settle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from scipy.optimize import brentq

from thermsim.model.arrays import Floats
from thermsim.model.operating import Conditions
from thermsim.model.program import Inputs
from thermsim.model.system import Model, Strengths
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.anderson import Anderson
from thermsim.solve.factor import Factor, NoPath, SolveFailed, solve_near
from thermsim.solve.governors import GovernorLaw, governor_laws
from thermsim.solve.ordering import layout_of

SHRINKING = 0.5  # plain steps, with whatever factor there is, go on while each is less than this of the one before
SETTLED = 1e-7  # K, the last correction of a steady state
LINEAR = 0.05  # relative error of a correction; the next one makes it good
NEAR_SPEED = 0.05  # of rated speed
ACCEPTABLE = 1e-4  # K, where rounding or a kink keeps the corrections from falling further
LONGEST = 1e3  # K, of one correction: laws are asked for no absurd temperatures on the way
RUNAWAY = 1e5  # K, a correction that only a nearly singular matrix gives, if it comes again and again
WARM = 10.0  # K
LEAST_DAMPING, RECOVERY = 0.1, 1.25  # a correction is taken in half when it grew, in more again while they shrink
STRIKES = 3  # such corrections in a row
MOST_ITERATIONS = 200
ROUNDS = 30  # through all governors, when there are several
SAME_SPEED = 1e-7
SPEED_STEP = 1e-4  # for the response of the heat balance to a speed
MOST_CHANGE = 0.3  # of speed, in one joint step
MOST_JOINT = 40


@dataclass(frozen=True)
class Steady:
    """A steady state: node temperatures (°C), inputs, conditions, governed speeds, and the heat left over (W).

    `time`: s, whose inputs these are.
    """

    temperature: Floats
    inputs: Inputs
    conditions: Conditions
    strengths: Strengths
    speeds: dict[str, float]
    residual: float
    factorisations: int
    settles: bool
    time: float


class SteadySolver:
    """Finds steady states of a model by modified Newton steps; each search starts from the state found before."""

    def __init__(self, model: Model, guess: Floats | None = None) -> None:
        self.model = model
        # a warm box is nearer than a cold one, and so is its factor
        self.temperature = model.start() + WARM if guess is None else guess.copy()
        self.factor: Factor | None = None
        self.factorisations = 0
        alone = model.adrift()
        if alone.size:
            raise NoPath(model.name_of(int(alone[0])))

    def at_speeds(self, time: float, speeds: Mapping[str, float]) -> Inputs:
        """Bring `temperature` to its steady state under the inputs of a time, governed speeds held.

        Raises `NoPath`, and leaves `temperature` as it was, where there is no such state.
        """
        before = self.temperature
        try:
            with collect_ranges():  # what is out of range only on the way is of no interest
                return self._iterate(self.model.program.at(time, speeds))
        except NoPath:
            self.temperature, self.factor = before, None
            raise

    def _iterate(self, inputs: Inputs) -> Inputs:
        model = self.model
        last, damping, strikes = np.inf, 1.0, 0
        mixed, plainly = Anderson(), True
        for _ in range(MOST_ITERATIONS):
            matrix = model.matrix(model.strengths(model.conditions(self.temperature, inputs)))
            left = model.imbalance(matrix, self.temperature, inputs)
            plain = self.factor if plainly else None
            step = plain.solve(left) if plain else self._step(model.square(matrix), left)
            size = float(np.abs(step).max(initial=0.0))
            if plain and size < min(SHRINKING * last, LONGEST):
                self.temperature = mixed.next(self.temperature, step)
                if size < SETTLED:
                    return inputs
                last = size
                continue
            plainly = plain is None and plainly  # once they do not shrink, no more of them
            strikes = strikes + 1 if size > RUNAWAY else 0
            if strikes == STRIKES:
                raise NoPath(model.name_of(int(np.abs(step).argmax())))
            damping = max(damping / 2, LEAST_DAMPING) if size > last else min(RECOVERY * damping, 1.0)
            self.temperature = self.temperature + damping * min(1.0, LONGEST / max(size, SETTLED)) * step
            if size < SETTLED:
                return inputs
            last = size
        if last < ACCEPTABLE:
            return inputs
        raise SolveFailed(f"the steady state did not settle: the last correction was {last:.3g} K")

    def _step(self, matrix: sp.csc_array, left: Floats) -> Floats:
        """Solve K step = left: the factor of an earlier K preconditions, and is made anew only when it is far off."""
        step = None if self.factor is None else solve_near(self.factor, matrix, left, LINEAR)
        if step is None:
            self.factor = None  # its memory is wanted for the new one
            self.factor = Factor(matrix, layout_of(self.model))
            self.factorisations += 1
            step = self.factor.solve(left)
        return step

    def solve(self, time: float) -> Steady:
        """Steady state under the inputs of a time, each governor at the speed its law settles on."""
        laws = governor_laws(self.model)
        speeds = {device: law.start().speed for law in laws for device in law.table.drives}
        settles = True
        for _ in range(ROUNDS if len(laws) > 1 else 1):
            before = dict(speeds)
            rests = [self._balance(law, time, speeds) for law in laws]
            settles = all(rests)
            if all(abs(speeds[device] - before[device]) < SAME_SPEED for device in speeds):
                break
        else:
            settles = settles and len(laws) < 2
        inputs = self.at_speeds(time, speeds)
        now = self.model.conditions(self.temperature, inputs)
        strengths = self.model.strengths(now)
        left = float(self.model.imbalance(self.model.matrix(strengths), self.temperature, inputs).sum())
        return Steady(self.temperature, inputs, now, strengths, speeds, left, self.factorisations, settles, time)

    def _balance(self, law: GovernorLaw, time: float, speeds: dict[str, float]) -> bool:
        """Set in `speeds` where a governor rests, the other speeds held; False if it never rests (a switch)."""
        if law.table.law == "switch":
            return self._rest_of_switch(law, time, speeds)
        if not self._jointly(law, time, speeds):
            self._search(law, time, speeds)
        return True

    def _jointly(self, law: GovernorLaw, time: float, speeds: dict[str, float]) -> bool:
        """Newton steps on temperatures and the governor's speed together; False if they do not settle."""
        table, before = law.table, self.temperature
        speed = speeds[table.drives[0]]
        if not table.min_speed < speed < table.max_speed:
            speed = 0.5 * (table.min_speed + table.max_speed)
        try:
            with collect_ranges():  # what is out of range only on the way is of no interest
                response, change = None, np.inf
                for _ in range(MOST_JOINT):
                    if abs(change) > NEAR_SPEED:  # closer than that the last answer to the speed will do
                        response = None
                    change, size, response = self._joint_step(law, time, speeds, speed, response)
                    if size > LONGEST:
                        break
                    speed += change
                    if size < SETTLED and abs(change) < SAME_SPEED:
                        speeds |= dict.fromkeys(table.drives, speed)
                        return True
        except NoPath:
            self.factor = None
        self.temperature = before
        return False

    def _joint_step(
        self, law: GovernorLaw, time: float, speeds: dict[str, float], speed: float, response: Floats | None
    ) -> tuple[float, float, Floats]:
        """Correct the temperatures.

        Returns the change of speed, the largest change of temperature (K), and the response to the speed, K, which is
        found where it is not given.
        """
        table, model = law.table, self.model
        nudge = -SPEED_STEP if speed + SPEED_STEP > table.max_speed else SPEED_STEP

        def balance(at: float) -> tuple[sp.csc_array, Floats]:
            inputs = model.program.at(time, {**speeds, **dict.fromkeys(table.drives, at)})
            matrix = model.matrix(model.strengths(model.conditions(self.temperature, inputs)))
            return matrix, model.imbalance(matrix, self.temperature, inputs)

        matrix, left = balance(speed)
        square = model.square(matrix)
        step = self._step(square, left)
        if response is None:
            response = self._step(square, (balance(speed + nudge)[1] - left) / nudge)
        sensor, k = law.sensor, law.hottest(self.temperature)
        reading = law.read(self.temperature) + float(sensor.changes(step)[k])
        wanted = law.rest(speed, reading, float(sensor.changes(response)[k]))
        change = min(max(wanted, speed - MOST_CHANGE, table.min_speed), speed + MOST_CHANGE, table.max_speed) - speed
        correction = step + change * response
        self.temperature = self.temperature + correction
        return change, float(np.abs(correction).max(initial=0.0)), response

    def _search(self, law: GovernorLaw, time: float, speeds: dict[str, float]) -> None:
        """Find the speed between its limits by bracketing, a steady state at each trial."""
        table = law.table

        def gap(speed: float) -> float:
            """How far the law wants the speed changed, or the sensor is from what it holds."""
            reading = self._reading(law, time, speeds, speed)
            if table.law == "hold":
                assert table.set_point is not None
                return reading - table.set_point
            return law.demand(reading, speed, on=False) - speed

        low, high = table.min_speed, table.max_speed
        if gap(low) > 0 and gap(high) < 0:
            root = float(brentq(gap, low, high, xtol=SAME_SPEED / 10, rtol=1e-10))
            self._reading(law, time, speeds, root)

    def _reading(self, law: GovernorLaw, time: float, speeds: dict[str, float], speed: float) -> float:
        """What a governor's sensor reads when its devices run at a speed; `speeds` is set to that.

        A speed at which the heat has no way out reads as hot as can be: at rest a fan may carry nothing.
        """
        speeds |= dict.fromkeys(law.table.drives, speed)
        try:
            self.at_speeds(time, speeds)
        except NoPath:
            return RUNAWAY
        return law.read(self.temperature)

    def _rest_of_switch(self, law: GovernorLaw, time: float, speeds: dict[str, float]) -> bool:
        """A switch rests only where its own speed keeps it from being thrown; else it cycles."""
        table = law.table
        assert table.on_above is not None
        assert table.off_below is not None
        if self._reading(law, time, speeds, table.min_speed) <= table.on_above:
            return True
        return self._reading(law, time, speeds, table.max_speed) >= table.off_below


def solve_steady(model: Model, time: float = 0.0, guess: Floats | None = None) -> Steady:
    """Steady state of a model under the inputs of a time; `guess`: node temperatures near it, shape (nodes,)."""
    return SteadySolver(model, guess).solve(time)

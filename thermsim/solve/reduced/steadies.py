"""Steady states of many cases of one box, found in a few fields that span them and judged by the whole heat balance.

The fields are how the box answers to each input, to first order, and states of a few examples. In them a case is
solved with dense algebra; then its full heat balance, summed up link by link, is put into the linearised box. That
correction is what the fields missed: it is made good, and where it does not shrink the case is not told.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import rebuild
from thermsim.model.system import Model
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.adjoint import Linearised, governor_rests
from thermsim.solve.anderson import Anderson
from thermsim.solve.governors import GovernorLaw, governor_laws
from thermsim.solve.reduced.basis import Basis, with_quick_nodes
from thermsim.solve.reduced.contraction import Tangent, slowest, tangent
from thermsim.solve.reduced.grow import WILD
from thermsim.solve.reduced.image import Image
from thermsim.solve.reduced.poles import examples
from thermsim.solve.reduced.projector import Projector, moving_groups
from thermsim.solve.steady import MOST_CHANGE, SPEED_STEP, Steady

MOST_ITERATIONS = 25
ENOUGH = 0.1  # of the tolerance: where iterations in the fields, and corrections, may stop
NEAR_SPEED = 0.02  # of rated speed, within which the last answer to the speed will do
SPEED_WEIGHT = 10.0  # K that a change of the whole speed range counts as
MOST_CORRECTIONS = 12
SHRINKING = 0.7  # a correction over the one before, at most
SAFETY = 2.0  # on what is still to come
WARMER = 10.0  # K, to see which strengths answer to temperatures


@dataclass(frozen=True)
class Told:
    """A steady state of a case, the largest error it may have (K), and how many corrections it took."""

    model: Model
    steady: Steady
    indicator: float
    corrections: int


class Steadies:
    """Tells steady states of cases near a linearised one, to a tolerance in K."""

    def __init__(self, linear: Linearised, fields: Iterable[Floats], tolerance: float) -> None:
        self.linear, self.tolerance = linear, tolerance
        self.model, steady = linear.model, linear.steady
        reached = steady.temperature
        with collect_ranges():
            near = list(examples(self.model, [reached, reached + WARMER]))
        moving = moving_groups(steady.strengths, near)
        self._projector = Projector(self.model, steady.conditions, moving)
        diagonal = self.model.square(self._projector.matrix).data[self.model.pattern.diagonal]
        self.basis = Basis(self.model, reached, with_quick_nodes(self.model, diagonal))
        for field in [*linear.answers, *fields]:
            self.basis.add(field)
        self._image: Image | None = None

    def learn(self, state: Floats) -> None:
        """Take what is new in a state into the fields."""
        self.basis.add(state - self.linear.steady.temperature)

    @property
    def image(self) -> Image:
        """The box in the fields there are now."""
        if self._image is None or self._image.size != self.basis.size:
            self._image = Image(self._projector, self.basis, self._image)
        return self._image

    def settle(self, case: Case) -> Told | None:
        """The steady state of a case under the inputs of the linearised one's time; None where it is not told."""
        model = rebuild(self.model, case)
        if model is None or any(law.table.law == "switch" for law in self.linear.laws):
            return None
        with collect_ranges():
            image = self.image.of_links(model)
            if image is None or len(image.laws) != len(self.linear.laws):
                return None
            try:
                guess, speeds = self._reduced(image)
                state = image.field(guess)
                rate = self._rate(image, guess, model, state, speeds)
                return None if rate is None else self._corrected(model, state, speeds, rate)
            except WILD:
                return None

    def _rate(self, image: Image, x: Floats, model: Model, state: Floats, speeds: dict[str, float]) -> float | None:
        """What the slowest mode of the fields keeps of what is off at each correction.

        None where corrections do not close in, or a governor holds a sensor that gets hotter with more speed: it may
        then rest at one limit or the other, and which of them is for the full solver to find.
        """
        laws = governor_laws(model)
        case = self._tangent(image, x, speeds)
        held = [law.table.law == "hold" for law in laws]
        if any(away and hold for away, hold in zip(case.turns_away(), held, strict=True)):
            return None
        own = self.image
        reference = self._tangent(own, np.zeros(own.size), self.linear.steady.speeds)
        rate = slowest(reference, case, governor_rests(laws, state, speeds))
        return rate if rate < 1 else None

    def _tangent(self, image: Image, x: Floats, speeds: dict[str, float]) -> Tangent:
        change, left = image.balance(x, image.model.program.at(self.linear.steady.time, speeds))
        faster = [self._faster(image, law, x, speeds, left) for law in image.laws]
        return tangent(image, x, image.matrix(change), faster)

    def _reduced(self, image: Image) -> tuple[Floats, dict[str, float]]:
        """Coordinates and governed speeds of a steady state in the fields; the last ones where it does not settle."""
        settled, steady = ENOUGH * self.tolerance, self.linear.steady
        x, speeds = np.zeros(image.size), dict(steady.speeds)
        mixed, responses, moved = Anderson(), None, np.inf
        for _ in range(MOST_ITERATIONS):
            change, left = image.balance(x, image.model.program.at(steady.time, speeds))
            factor = image.factor(change, np.inf)
            step = factor.solve(left)
            if responses is None or moved > NEAR_SPEED:
                responses = [factor.solve(self._faster(image, law, x, speeds, left)) for law in image.laws]
            moved = 0.0
            for law, response in zip(image.laws, responses, strict=True):
                by = change_of_speed(law, x, step, response, speeds)
                speeds |= dict.fromkeys(law.table.drives, speeds[law.table.drives[0]] + by)
                step = step + by * response
                moved = max(moved, abs(by))
            x = x + step if image.laws else mixed.next(x, step)
            if image.kelvin(step) < settled and SPEED_WEIGHT * moved < settled:
                break
        return x, speeds

    def _faster(self, image: Image, law: GovernorLaw, x: Floats, speeds: dict[str, float], left: Floats) -> Floats:
        """What heat in the fields answers to a governed speed."""
        speed = speeds[law.table.drives[0]]
        nudge = -SPEED_STEP if speed + SPEED_STEP > law.table.max_speed else SPEED_STEP
        inputs = image.model.program.at(
            self.linear.steady.time, {**speeds, **dict.fromkeys(law.table.drives, speed + nudge)}
        )
        found: Floats = (image.balance(x, inputs)[1] - left) / nudge
        return found

    def _corrected(self, model: Model, temperature: Floats, speeds: dict[str, float], slowest: float) -> Told | None:
        """A state corrected by what its full heat balance leaves, until that is little."""
        linear, time, last = self.linear, self.linear.steady.time, np.inf
        laws = governor_laws(model)
        rests_before = governor_rests(linear.laws, linear.steady.temperature, linear.steady.speeds)
        kinds = [rest.per_kelvin for rest in rests_before]
        for count in range(1, MOST_CORRECTIONS + 1):
            inputs = model.program.at(time, speeds)
            now = model.conditions(temperature, inputs)
            strengths = model.strengths(now)
            left = model.heat_left(now, strengths, inputs)
            rests = governor_rests(laws, temperature, speeds)
            if [rest.per_kelvin for rest in rests] != kinds:
                linear, kinds = linear.resting(rests), [rest.per_kelvin for rest in rests]
            change, faster = linear.solve(left, np.array([-rest.off for rest in rests]))
            size = float(np.abs(change).max(initial=0.0)) + SPEED_WEIGHT * float(np.abs(faster).max(initial=0.0))
            if size > SHRINKING * last:
                return None
            # what is still to come, from how much smaller this one is than the one before, and the slowest mode
            rate = max(size / last if np.isfinite(last) else 0.5, slowest)
            temperature, last, remaining = temperature + change, size, size * rate / (1 - rate)
            for law, by in zip(laws, faster.tolist(), strict=True):
                reached = min(max(speeds[law.table.drives[0]] + by, law.table.min_speed), law.table.max_speed)
                speeds = {**speeds, **dict.fromkeys(law.table.drives, reached)}
            if SAFETY * remaining < ENOUGH * self.tolerance:
                inputs = model.program.at(time, speeds)
                now = model.conditions(temperature, inputs)
                steady = Steady(
                    temperature, inputs, now, model.strengths(now), speeds, float(left.sum()), 0, True, time
                )
                return Told(model, steady, SAFETY * max(size, remaining), count)
        return None


def change_of_speed(law: GovernorLaw, x: Floats, step: Floats, response: Floats, speeds: dict[str, float]) -> float:
    """How far a governor wants its speed changed after a step of the unknowns that answer to it by `response`."""
    table, hottest = law.table, law.hottest(x)
    speed = speeds[table.drives[0]]
    reading = law.read(x) + float(law.sensor.changes(step)[hottest])
    wanted = law.rest(speed, reading, float(law.sensor.changes(response)[hottest]))
    return min(max(wanted, speed - MOST_CHANGE, table.min_speed), speed + MOST_CHANGE, table.max_speed) - speed

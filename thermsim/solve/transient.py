"""Histories: steps of controlled error from switch-on to the end, as a generator."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from thermsim.model.arrays import Floats
from thermsim.model.system import Model
from thermsim.solve.dynamics import Dynamics, FullDynamics
from thermsim.solve.factor import SolveFailed
from thermsim.solve.governors import GovernorLaw, GovernorState
from thermsim.solve.stage import NotConverged
from thermsim.solve.tr_bdf2 import SETTLED, State, Step, Stepper

LADDER = 4.0  # steps are powers of this times the shortest, so that sparse factors are reused
SAFETY = 0.7  # of the tolerance that a longer step should not pass
MOST_GROWTH = 4.0  # of a step over the one before
SHORTEST = 0.01  # s
LONGEST = 1e7  # s
TOO_SHORT = 1e-7  # s
HOTTEST = 10_000.0  # K over where it starts, about; by then nothing here has any meaning
FIRST_CHANGE = 4.0  # tolerances that the first step may move the fastest node by


@dataclass(frozen=True)
class Standing:
    """Where a history stands after a step: enough to go on from there. `rung`: of the next step's length."""

    time: float
    x: Floats
    governors: tuple[GovernorState, ...]
    rung: int | None = None


class Transient:
    """One history from a state. Iterate over `steps`; `stepper` counts the work, `rung` is the next step's."""

    def __init__(
        self,
        dynamics: Dynamics,
        start: Floats,
        tolerance: float | None = None,
        ladder: float = LADDER,
        settled: float = SETTLED,
    ) -> None:
        model = dynamics.model
        self.model = model
        self.dynamics = dynamics
        self.tolerance = tolerance or model.case.spec.run.tolerance
        self.laws = dynamics.laws
        self.stepper = Stepper(dynamics, self.tolerance, settled)
        self._start = start
        self._ladder = ladder
        self.rejected = 0
        self.rung = 0
        self._highest_rung = self._rung_of(min(model.program.longest_step, LONGEST))

    @classmethod
    def of(cls, model: Model, tolerance: float | None = None, start: Floats | None = None) -> Transient:
        """The history of a full model, from its own start unless another is given."""
        return cls(FullDynamics(model), model.start() if start is None else start, tolerance)

    def steps(self, end: float, resume: Standing | None = None) -> Iterator[Step]:
        """Accepted steps from 0 (or where a history stood) to `end`, landing on every jump of the inputs."""
        at = resume or Standing(0.0, self._start, tuple(law.start() for law in self.laws))
        stops = [*[t for t in self.model.program.breaks if at.time < t < end], end]
        for stop in stops:
            segment = 0.5 * (at.time + stop)
            state = self.stepper.state(at.time, at.x, at.governors, segment)
            self.rung = self._first_rung(state) if at.rung is None else at.rung
            for step in self._segment(state, stop, segment):
                if self.dynamics.kelvin(step.last.x) > HOTTEST:
                    raise SolveFailed(
                        f"something gets hotter than {HOTTEST:,.0f} °C by {step.last.time:.4g} s, which no box does: "
                        "look at the watts, and at what carries them away"
                    )
                yield step
                at = Standing(step.last.time, step.last.x, step.last.governors)

    def _segment(self, state: State, stop: float, segment: float) -> Iterator[Step]:
        """Steps within a stretch of smooth inputs; a thrown switch starts it anew."""
        while state.time < stop - TOO_SHORT:
            length = min(SHORTEST * self._ladder**self.rung, stop - state.time)
            try:
                step, error = self.stepper.step(state, length, segment)
            except NotConverged:
                error = np.inf
            if error > self.tolerance:
                self.rejected += 1
                self.rung = self._rung_of(length) - 1
                if length < TOO_SHORT:
                    raise SolveFailed(f"the time step fell below {TOO_SHORT:g} s at {state.time:.6g} s")
                continue
            thrown = self._thrown(step)
            if thrown is not None:
                step, state = self._land(state, step, thrown, segment)
                self.rung = self._first_rung(state)
            else:
                state = step.last
                if length == SHORTEST * self._ladder**self.rung:
                    self.rung = min(self.rung + self._rise(error), self._highest_rung)
            yield step

    def _first_rung(self, state: State) -> int:
        heavy = self.stepper.has_capacity
        rate = np.where(heavy, state.surplus, 0.0) / np.where(heavy, self.dynamics.capacity, 1.0)
        fastest = self.dynamics.kelvin(rate)
        wish = FIRST_CHANGE * self.tolerance / max(fastest, 1e-12)
        return min(self._rung_of(min(wish, 1e3)), self._highest_rung)

    def _rise(self, error: float) -> int:
        """How many rungs the next step may be longer, after one of an error (K)."""
        growth = min((SAFETY * self.tolerance / max(error, 1e-300)) ** (1 / 3), MOST_GROWTH)
        return max(int(np.log(growth) / np.log(self._ladder) + 1e-9), 0)

    def _rung_of(self, length: float) -> int:
        """The highest rung not longer than a length."""
        return int(np.floor(np.log(length / SHORTEST) / np.log(self._ladder) + 1e-9))

    def _thrown(self, step: Step) -> GovernorLaw | None:
        """The switch to be thrown first within a step, if any."""
        thrown = [
            law
            for law, state in zip(self.laws, step.last.governors, strict=True)
            if law.crossed(state, law.read(step.last.x))
        ]
        return min(thrown, key=lambda law: self._instant(step, law), default=None)

    def _instant(self, step: Step, law: GovernorLaw) -> float:
        """When within a step a switch's sensor crosses its threshold; the step's end if it was past it before."""
        on = step.last.governors[self.laws.index(law)].on
        threshold = law.table.off_below if on else law.table.on_above
        assert threshold is not None

        def over(time: float) -> float:
            return law.read(step.at(time)) - threshold

        start, stop = step.first.time, step.last.time
        return float(brentq(over, start, stop, xtol=1e-6)) if over(start) * over(stop) < 0 else stop

    def _land(self, state: State, step: Step, law: GovernorLaw, segment: float) -> tuple[Step, State]:
        """Shorten a step to the instant at which a switch is thrown, and throw it."""
        index, instant = self.laws.index(law), self._instant(step, law)
        on = state.governors[index].on
        if instant < step.last.time:
            step, _ = self.stepper.step(state, max(instant - state.time, TOO_SHORT), segment)
        governors = list(step.last.governors)
        governors[index] = replace(governors[index], on=not on)
        restarted = self.stepper.state(step.last.time, step.last.x, tuple(governors), segment)
        return replace(step, last=restarted), restarted

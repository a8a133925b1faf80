"""One basis for many cases of one box: grown over a few of them, then good for all whose strengths lie between.

The basis is grown over the examples one after another; a rotation of it puts first what their histories are made of.
A case is then run in the leading vectors, and judged by what the others would add.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import build, rebuild
from thermsim.model.system import Model
from thermsim.solve.governors import speeds_of
from thermsim.solve.reduced.basis import Basis
from thermsim.solve.reduced.grow import WILD, Growth, NotReduced, Reduced
from thermsim.solve.reduced.image import Image
from thermsim.solve.reduced.projector import Projector
from thermsim.solve.reduced.samples import ends_of_steps, sample_times, since_jump
from thermsim.solve.steady import SteadySolver
from thermsim.solve.tr_bdf2 import Step
from thermsim.solve.transient import Transient

LADDER = 1.3
SETTLED = 0.02  # of the tolerance: where iterations within a stage may stop
JUDGED_AT = 12  # times of a history at which it is judged
SAFETY = 2.0  # on the error that the other vectors would mend
LEFT_OUT = 0.05  # of the tolerance: what the examples' fields may lose to the leading vectors
KEPT = 0.002  # likewise, to all that are kept from example to example


@dataclass(frozen=True)
class Family:
    """What the examples' histories are made of.

    `states`: of the examples' histories, coordinates in the basis; `factorisations`: spent on growing it; `newest`: the
    history of the last example, as it was found.
    """

    model: Model
    projector: Projector
    basis: Basis
    states: Floats
    tolerance: float
    factorisations: int = 0
    newest: Reduced | None = None

    @classmethod
    def grow(cls, cases: Sequence[Case], tolerance: float | None = None, loads: Sequence[Floats] = ()) -> Family:
        """Grow over examples; the first is the one others are told apart from. Raises `NotReduced`, `NoPath`.

        `loads`: heat (W, by node) that small changes of inputs bring into the first, so that those are told as well.
        """
        model = build(cases[0])
        within = tolerance or cases[0].spec.run.tolerance
        growth, factorisations = _begun(model, within, None)
        answers = [growth.answer(load) for load in loads]
        newest = growth.grow()
        fields = [growth.basis.coordinates(field) for answer in answers for field in answer]
        basis, states = _led(growth, np.concatenate((growth.basis.samples, fields)) if fields else growth.basis.samples)
        family = cls(model, growth.projector, basis, states, within, factorisations + newest.factorisations, newest)
        for case in cases[1:]:
            family = family.extended(case)
        return family

    def extended(self, case: Case) -> Family:
        """The family with one more example. Raises `NotReduced`, `NoPath`."""
        model = rebuild(self.model, case)
        if model is None or model.node_count != self.model.node_count:
            raise NotReduced("an example has other sheets")
        growth, factorisations = _begun(model, self.tolerance, self.basis)
        newest = growth.grow()
        start: Floats = self.basis.fields[0, : self.basis.nodes]
        offset = growth.basis.coordinates(growth.start - start)
        samples = offset + _widened(growth.basis.samples, offset.size)
        basis, states = _led(growth, np.concatenate((_widened(self.states, offset.size), samples)))
        basis.rename_start(start)
        numbers = sorted({*self.projector.numbers, *growth.projector.numbers})
        projector = Projector(self.model, self.projector.now, numbers, self.projector.finer)
        factorisations += self.factorisations + newest.factorisations
        return Family(self.model, projector, basis, states, self.tolerance, factorisations, newest)

    @cached_property
    def turn(self) -> Floats:
        """What takes coordinates in the basis to those of its leading part."""
        return self.basis.led_by(self.states, self.projector.watched, LEFT_OUT * self.tolerance)[1]

    @cached_property
    def whole(self) -> Image:
        """The image in all vectors."""
        return Image(self.projector, self.basis)

    @cached_property
    def leading(self) -> Image:
        """The image in the vectors that matter."""
        return self.whole.recombined(self.turn)

    def history(self, case: Case) -> Reduced | None:
        """The history of a case in this basis; None where the case is not of the family, or is not told well enough."""
        model = rebuild(self.model, case)
        leading = None if model is None else self.leading.of_case(model)
        if model is None or leading is None:
            return None
        offset = float(model.start()[0] - self.model.start()[0])
        history = Transient(leading, offset * leading.whole_box, self.tolerance, LADDER, SETTLED)
        try:
            steps = list(history.steps(model.case.spec.run.duration))
        except WILD:
            return None
        error = self._error(model, leading, steps)
        if error is None or SAFETY * error > self.tolerance:
            return None
        return Reduced(leading, history, steps, SAFETY * error, 0, 0, 0)

    def _error(self, model: Model, leading: Image, steps: list[Step]) -> float | None:
        """What the vectors left out would change at most, K, by the error equation in all vectors."""
        whole = self.whole.of_case(model)
        if whole is None:
            return None
        duration = model.case.spec.run.duration
        times = sample_times(model.program.breaks, duration)
        into, worst = leading.within(whole), 0.0
        for sample in ends_of_steps(steps, times[:: max(1, times.size // JUDGED_AT)]):
            inputs = model.program.at(sample.time, speeds_of(leading.laws, list(sample.governors)), sample.segment)
            change, heat = whole.balance(into @ sample.x, inputs)
            lasting = max(since_jump(sample, model.program.breaks), 1e-3)
            missed = whole.factor(change, lasting).solve(heat - into @ (into.T @ heat))
            worst = max(worst, whole.kelvin(missed))
        return worst


def _begun(model: Model, tolerance: float, seed: Basis | None) -> tuple[Growth, int]:
    """The growth of an example's basis, about its steady state, and the factorisations that took."""
    solver = SteadySolver(model)
    calm = solver.solve(0.5 * min(model.program.breaks, default=model.case.spec.run.duration))
    return Growth(model, [calm], solver.factor, tolerance, seed), solver.factorisations


def _led(growth: Growth, states: Floats) -> tuple[Basis, Floats]:
    """The basis that some states in a grown one are made of, and the states in it."""
    states = _widened(states, growth.basis.size)
    basis, turn = growth.basis.led_by(states, growth.projector.watched, KEPT * growth.tolerance)
    return basis, states @ turn


def _widened(states: Floats, size: int) -> Floats:
    """States of fewer coordinates, shape (states, up to size), as states of `size`."""
    return np.pad(states, ((0, 0), (0, size - states.shape[1])))

"""Growing a basis until the history it spans no longer moves.

A rational Krylov chain from the first load, the steady fields, and then what the full model's residual asks for:
the heat that the reduced history leaves unaccounted for, at times spread over it, solved with one shifted factor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.operating import Conditions
from thermsim.model.program import Inputs
from thermsim.model.system import Model
from thermsim.solve.dynamics import FullDynamics
from thermsim.solve.factor import Factor, NoPath, SolveFailed
from thermsim.solve.governors import GovernorState, speeds_of
from thermsim.solve.reduced.basis import NOTHING_NEW, Basis, with_quick_nodes
from thermsim.solve.reduced.image import Image
from thermsim.solve.reduced.poles import FAST, INSTANT, SOON, Poles, TooManyPoles, examples
from thermsim.solve.reduced.projector import Projector, moving_groups
from thermsim.solve.reduced.residual import Residual, residual
from thermsim.solve.reduced.samples import Sample, ends_of_steps, sample_times, take_samples
from thermsim.solve.steady import Steady
from thermsim.solve.tr_bdf2 import Step
from thermsim.solve.transient import Transient

CHAIN = 12  # vectors of the first chain
LEADS = 6  # residual directions taken up in a round, at most
DEPTH = 6  # vectors the shifted factor makes of a round's leads together, at least
PATIENCE = 4  # rounds in which early times may wait
NEGLIGIBLE = 0.02  # of the largest lead
MOST_ROUNDS = 8
MOST_VECTORS = 240
LADDER = 1.3  # of time steps: dense factors are cheap
# tolerance of a step against that of the full engine, whose ladder keeps most steps shorter: on the way, and at last
SHARPER, SHARPEST = 0.25, 0.05
EARLIER = (0.01, 0.03)  # s after the start, where nothing is compared but the residual is looked at
MOST_SAMPLES = 60  # of the finished history, kept to find what is hottest
WINDOWS = 3  # parts of a history in which the residual must shrink
SAFETY = 2.0  # on the indicator
JUMPS = 6  # of the inputs that are answered before any residual is looked at
GOVERNED = 3  # vectors for each governor
SETTLED = 1e-3  # of the tolerance: balance of massless nodes at the start


# what laws raise at the absurd temperatures of a basis that is still too poor
WILD = (SolveFailed, ArithmeticError, ValueError, TypeError)


class NotReduced(Exception):
    """The basis did not grow good enough; the full engine must be used. The message says why."""


@dataclass(frozen=True)
class Reduced:
    """A history in a reduced basis, its steps, and what it took.

    `indicator`: largest error of the basis (K) anywhere at any time, as it is judged; time steps add theirs.
    """

    image: Image
    history: Transient
    steps: list[Step]
    indicator: float
    factorisations: int
    solves: int
    rounds: int


class Growth:
    """Grows the basis of one model's history.

    `steadies`: steady states of its inputs, the first the reference; without any, that is the start. `slow`: a factor
    of K near its steady state, if there is one. `seed`: a basis to go on from.
    """

    def __init__(
        self,
        model: Model,
        steadies: Sequence[Steady],
        slow: Factor | None,
        tolerance: float,
        seed: Basis | None = None,
    ) -> None:
        self.model = model
        self.tolerance = tolerance
        self.full = FullDynamics(model)
        self.end = model.case.spec.run.duration
        self.slow = slow
        self.times = sample_times(model.program.breaks, self.end)
        self.start = self._start()
        states = [self.start, *(steady.temperature for steady in steadies)]
        now = steadies[0].conditions if steadies else self._conditions_at_start()
        moving = moving_groups(model.strengths(now), list(examples(model, states)))
        self.projector = Projector(model, now, moving)
        if seed is None:
            diagonal = model.square(self.projector.matrix).data[model.pattern.diagonal]
            self.capacity = with_quick_nodes(model, diagonal)
        else:
            self.capacity = seed.capacity
        self.poles = Poles(model, now, self.capacity)
        self.basis = Basis(model, self.start, self.capacity)
        if seed is not None:
            for vector in seed.vectors:
                self.basis.add(vector)
        try:
            self._begin(steadies)
        except (TooManyPoles, NoPath) as error:
            raise NotReduced(str(error)) from None

    def _begin(self, steadies: Sequence[Steady]) -> None:
        self._chain(self._heat(0.0, self.start))
        for steady in steadies:
            self.basis.add(steady.temperature - self.start)
        self._answer_jumps()
        self._answer_governors()
        self.basis.add(np.ones(self.model.node_count))  # so that heat is kept to the last joule

    def _start(self) -> Floats:
        """The start, massless nodes in balance."""
        inputs = self._inputs(0.0, tuple(law.start() for law in self.full.laws))
        return self.full.settle(self.model.start(), inputs, self.tolerance * SETTLED)

    def _conditions_at_start(self) -> Conditions:
        return self.model.conditions(self.start, self._inputs(0.0, tuple(law.start() for law in self.full.laws)))

    def _inputs(self, time: float, governors: tuple[GovernorState, ...], segment: float | None = None) -> Inputs:
        return self.model.program.at(time, speeds_of(self.full.laws, list(governors)), segment)

    def _heat(self, time: float, temperature: Floats) -> Floats:
        """Heat left to store at a time (just after a jump), governors as they start."""
        inputs = self._inputs(time, tuple(law.start() for law in self.full.laws))
        return self.full.balance(temperature, inputs)[1]

    def _chain(self, load: Floats) -> None:
        """Krylov vectors of the first load; while nothing else is in the basis the last one leads on."""
        for _ in range(CHAIN):
            if not self.basis.add(self.poles.solve(load, 0.0)):
                break
            load = self.capacity * self.basis.vectors[-1]
        self._own = self.basis.vectors.copy()
        self._next = load

    def _lengthen(self) -> None:
        """Go on with the first chain: it spans a linear history without jumps, and nothing else is needed.

        Each vector is freed of those of the chain only, and the next one comes from that.
        """
        chain = self._own
        for _ in range(DEPTH):
            vector = self.poles.solve(self._next, 0.0)
            self.basis.add(vector)
            before = float(np.sqrt(vector @ (self.capacity * vector)))
            for _ in range(2):
                vector = vector - (chain @ (self.capacity * vector)) @ chain
            length = float(np.sqrt(vector @ (self.capacity * vector)))
            if length <= NOTHING_NEW * before:
                break
            vector /= length
            chain = np.vstack((chain, vector))
            self._next = self.capacity * vector
        self._own = chain

    def _answer_jumps(self) -> None:
        """Vectors for the heat that starts to flow, or ceases, when the inputs jump."""
        temperature = self.poles.temperature
        for time in self.model.program.breaks[:JUMPS]:
            load = self._heat(time, temperature) - self._heat(time * (1 - 1e-9), temperature)
            slow = self.poles.solve(load, time)
            for vector in (slow, self.poles.solve(self.capacity * slow, time), self.poles.solve(load, time, 0.0)):
                self.basis.add(vector)

    def _answer_governors(self) -> None:
        """Vectors for what a governed speed does to the heat that leaves a warm box."""
        time, temperature, others = float(self.times[0]), self.poles.temperature, self.projector.now.speeds
        for law in self.full.laws:
            table, heats = law.table, []
            for speed in (table.min_speed, table.max_speed):
                inputs = self.model.program.at(time, {**others, **dict.fromkeys(table.drives, speed)})
                heats.append(self.full.balance(temperature, inputs)[1])
            load = heats[1] - heats[0]
            for _ in range(GOVERNED):
                vector = self.poles.solve(load, time)
                self.basis.add(vector)
                load = self.capacity * vector

    def answer(self, load: Floats) -> Floats:
        """Take in how the box answers to heat (W) that sets in after a while; returns those fields, K."""
        time = float(self.times[0])
        fields = [self.poles.solve(load, time, since) for since in (np.inf, FAST, INSTANT)]
        fields.append(self.poles.solve(self.capacity * fields[0] / self.poles.shift, time))
        if self.slow is not None:
            fields.append(self.slow.solve(load))
        for field in fields:
            self.basis.add(field)
        return np.array(fields)

    def grow(self, progress: Callable[[float], None] | None = None) -> Reduced:
        """Enrich until the indicator is within the tolerance; tells what share is done. Raises `NotReduced`."""
        image: Image | None = None
        indicator = np.inf
        before: list[Sample] = []
        unaccounted = np.full(WINDOWS, np.inf)
        for rounds in range(1, MOST_ROUNDS + 1):
            image = Image(self.projector, self.basis, image)
            history, steps = self._run(image)
            samples = take_samples(steps, self.times)
            if progress:
                progress(rounds / (rounds + 2))
            self.basis.samples = np.array([sample.x for sample in samples])
            asked = ends_of_steps(steps, np.r_[EARLIER, self.times[::2]])
            rest = residual(self.full, image, self.poles, asked)
            last, unaccounted = (
                unaccounted,
                np.array([part.max(initial=0.0) for part in np.array_split(rest.sizes, WINDOWS)]),
            )
            if before:
                # how far the residual shrank, in that part of the history where it did least
                shrank = float((unaccounted / np.maximum(last, np.finfo(float).tiny)).max())
                moved = self._moved(before, samples) * min(1.0, shrank)
                indicator = SAFETY * max(moved, float(rest.alone.max()), rest.bias)
                if indicator <= self.tolerance:
                    history, steps = self._run(image, SHARPEST)
                    every = max(1, len(steps) // MOST_SAMPLES)
                    self.basis.samples = np.array([step.last.x for step in steps[::every]])
                    return Reduced(
                        image, history, steps, indicator, self.poles.factorisations, self.poles.solves, rounds
                    )
            if self.basis.size > MOST_VECTORS:
                break
            try:
                if image.linear and not (self.model.program.breaks or self.model.program.swings):
                    self._lengthen()
                else:
                    size = self.basis.size
                    self._enrich(rest, rounds)
                    if self.basis.size == size:
                        # nothing else asked for more: without a new vector nothing would move, and that proves nothing
                        self._enrich(rest, PATIENCE + 1)
            except (TooManyPoles, NoPath) as error:
                raise NotReduced(str(error)) from None
            if 2 * SAFETY * rest.bias > self.tolerance:
                self.projector, image = self.projector.refined(), None
            before = samples
        raise NotReduced(f"the indicated error was still {indicator:.2g} K with {self.basis.size} vectors")

    def _run(self, image: Image, sharper: float = SHARPER) -> tuple[Transient, list[Step]]:
        history = Transient(image, np.zeros(image.size), sharper * self.tolerance, LADDER)
        try:
            return history, list(history.steps(self.end))
        except WILD as error:
            raise NotReduced(f"the reduced history failed: {error}") from error

    def _moved(self, before: list[Sample], after: list[Sample]) -> float:
        """The largest change of temperature anywhere that the last enrichment brought, K."""
        largest = 0.0
        for old, new in zip(before, after, strict=True):
            change = new.x.copy()
            change[: old.x.size] -= old.x
            largest = max(largest, float(np.abs(change @ self.basis.vectors[: change.size]).max()))
        return largest

    def _enrich(self, rest: Residual, rounds: int) -> None:
        """Take up the leading directions of the residual, each with the factor fit for its time."""
        keys = [self.poles.key(sample.segment, since) for sample, since in zip(rest.samples, rest.since, strict=True)]
        for key in dict.fromkeys(keys):
            mine = [k for k, other in enumerate(keys) if other == key]
            # a chain does well early on too: a factor for it only where it does not
            is_early, is_well = rest.since[mine[0]] < SOON, SAFETY * rest.alone[mine].max() < self.tolerance
            if is_early and is_well and rounds <= PATIENCE:
                continue
            leads = rest.leads(mine, LEADS, NEGLIGIBLE)
            worst = max(mine, key=lambda k: rest.alone[k])
            if SAFETY * rest.alone[worst] > self.tolerance:
                leads.append(rest.heat[worst])
            self._take_up(leads, rest.samples[mine[0]].segment, rest.since[mine[0]])

    def _take_up(self, leads: list[Floats], time: float, since: float) -> None:
        depth = max(1, -(-DEPTH // max(len(leads), 1)))
        for lead in leads:
            load = lead
            for _ in range(depth):
                vector = self.poles.solve(load, time, since)
                self.basis.add(vector)
                load = self.capacity * vector
            if self.slow is not None and since >= SOON:
                self.basis.add(self.slow.solve(lead))
                self.poles.solves += 1

"""Growing a basis until the history it spans no longer moves.

A rational Krylov chain from the first load, the steady fields, and then what the full model's residual asks for:
the heat that the reduced history leaves unaccounted for, at times spread over it, solved with one shifted factor.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.system import Model, Strengths
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.dynamics import FullDynamics
from thermsim.solve.factor import Factor, SolveFailed
from thermsim.solve.governors import speeds_of
from thermsim.solve.reduced.basis import Basis, with_quick_nodes
from thermsim.solve.reduced.image import Image
from thermsim.solve.reduced.projector import Projector
from thermsim.solve.reduced.samples import Sample, sample_times, since_jump, take_samples
from thermsim.solve.steady import Steady
from thermsim.solve.tr_bdf2 import Step
from thermsim.solve.transient import Transient

CHAIN = 12  # vectors of the first chain
SHIFT = 1 / 72  # of the duration: the time constant the shifted factor is best at
SHORTEST_SHIFT, LONGEST_SHIFT = 2.0, 100.0  # s
LEADS = 6  # residual directions taken up in a round, at most
DEPTH = 6  # vectors the shifted factor makes of a round's leads together, at least
NEGLIGIBLE = 0.02  # of the largest lead
MOST_ROUNDS = 8
MOST_FACTORS = 4
MOST_VECTORS = 240
LADDER = 1.3  # of time steps: dense factors are cheap
SAFETY = 2.0  # on the indicator
STRETCHES = 6  # of the inputs that are looked at for strengths that move


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


@dataclass(frozen=True)
class Pole:
    """The factor of K + C/shift at some flows, and the diagonal of that K."""

    factor: Factor
    diagonal: Floats


class Growth:
    """Grows the basis of one model's history."""

    def __init__(self, model: Model, steadies: Sequence[Steady], slow: Factor | None, tolerance: float) -> None:
        self.model = model
        self.tolerance = tolerance
        self.full = FullDynamics(model)
        self.end = model.case.spec.run.duration
        self.slow = slow
        reference = steadies[0].strengths
        self.projector = Projector(model, reference, self._examples(steadies))
        diagonal = model.square(self.projector.matrix).data[model.pattern.diagonal]
        self.capacity = with_quick_nodes(model, diagonal)
        self.shift = min(max(SHIFT * self.end, SHORTEST_SHIFT), LONGEST_SHIFT)
        self.steady = steadies[0]
        self.poles: dict[frozenset[str], Pole] = {}
        self.solves = 0
        self.times = sample_times(model.program.breaks, self.end)
        self.start = model.start()
        self.basis = Basis(model, self.start, self.capacity)
        self._chain(self._first_load(), CHAIN)
        self.basis.add(np.ones(model.node_count))  # so that heat is kept to the last joule
        for steady in steadies:
            self.basis.add(steady.temperature - self.start)

    def _examples(self, steadies: Sequence[Steady]) -> Iterator[Strengths]:
        """Strengths at the extremes of governed speeds, in the first stretches of the inputs, cold and warm."""
        stops = np.r_[0.0, self.model.program.breaks, self.end][: STRETCHES + 1]
        governors = self.model.case.spec.governor.values()
        extremes = [
            {device: getattr(table, name) for table in governors for device in table.drives}
            for name in ("min_speed", "max_speed")
        ]
        with collect_ranges():
            for time in (stops[:-1] + stops[1:]) / 2:
                for speeds in extremes if governors else extremes[:1]:
                    inputs = self.model.program.at(float(time), speeds)
                    for temperature in (self.model.start(), *(steady.temperature for steady in steadies)):
                        yield self.model.strengths(self.model.conditions(temperature, inputs))

    def _first_load(self) -> Floats:
        speeds = speeds_of(self.full.laws, [law.start() for law in self.full.laws])
        inputs = self.model.program.at(0.0, speeds, float(self.times[0]))
        return self.full.balance(self.start, inputs)[1]

    def _pole(self, time: float) -> Pole:
        """The shifted factor for the flows there are at a time."""
        mishaps = self.model.program.mishaps_at(time)
        if mishaps not in self.poles:
            if len(self.poles) == MOST_FACTORS:
                raise NotReduced(f"the flows change more than {MOST_FACTORS - 1} times")
            inputs = self.model.program.at(time, self.steady.speeds)
            with collect_ranges():
                strengths = self.model.strengths(self.model.conditions(self.steady.temperature, inputs))
            square = self.model.square(self.model.matrix(strengths)).copy()
            diagonal = square.data[self.model.pattern.diagonal].copy()
            square.data[self.model.pattern.diagonal] += self.capacity / self.shift
            self.poles[mishaps] = Pole(Factor(square), diagonal)
        return self.poles[mishaps]

    def _solve(self, factor: Factor, right: Floats) -> Floats:
        self.solves += 1
        return factor.solve(right)

    def _chain(self, load: Floats, count: int) -> None:
        """Krylov vectors of the shifted factor; only while nothing else is in the basis does the last one lead on."""
        factor = self._pole(float(self.times[0])).factor
        for _ in range(count):
            if not self.basis.add(self._solve(factor, load)):
                break
            load = self.capacity * self.basis.vectors[-1]

    def grow(self) -> Reduced:
        """Enrich until the indicator is within the tolerance. Raises `NotReduced`."""
        image: Image | None = None
        before: list[Sample] = []
        unaccounted = np.inf
        for rounds in range(1, MOST_ROUNDS + 1):
            image = Image(self.projector, self.basis, image)
            history, steps = self._run(image)
            samples = take_samples(steps, self.times)
            self.basis.samples = np.array([sample.x for sample in samples])
            left = self._left_over(image, samples)
            scaled, alone = self._scaled(left)
            last, unaccounted = unaccounted, float(np.linalg.norm(scaled, axis=1).max())
            if before:
                indicator = SAFETY * max(self._moved(before, samples) * min(1.0, unaccounted / last), alone.max())
                if indicator <= self.tolerance:
                    return Reduced(image, history, steps, indicator, len(self.poles), self.solves, rounds)
            if self.basis.size > MOST_VECTORS:
                break
            self._enrich(left, scaled, unaccounted, alone)
            before = samples
        raise NotReduced(f"the indicated error was still {indicator:.2g} K with {self.basis.size} vectors")

    def _run(self, image: Image) -> tuple[Transient, list[Step]]:
        history = Transient(image, np.zeros(image.size), self.tolerance, LADDER)
        try:
            return history, list(history.steps(self.end))
        except (SolveFailed, ArithmeticError, ValueError) as error:
            raise NotReduced(f"the reduced history failed: {error}") from error

    def _left_over(self, image: Image, samples: list[Sample]) -> Floats:
        """Heat that no rate of change within the basis takes up, W, shape (samples, nodes)."""
        found = np.empty((len(samples), self.model.node_count))
        with collect_ranges():
            for row, sample in zip(found, samples, strict=True):
                speeds = speeds_of(self.full.laws, list(sample.governors))
                inputs = self.model.program.at(sample.time, speeds, sample.time)
                row[:] = self.basis.outside(self.full.balance(image.field(sample.x), inputs)[1])
        return found

    def _moved(self, before: list[Sample], after: list[Sample]) -> float:
        """The largest change of temperature anywhere that the last enrichment brought, K."""
        largest = 0.0
        for old, new in zip(before, after, strict=True):
            change = new.x.copy()
            change[: old.x.size] -= old.x
            largest = max(largest, float(np.abs(change @ self.basis.vectors[: change.size]).max()))
        return largest

    def _scaled(self, left: Floats) -> tuple[Floats, Floats]:
        """Residuals as the energy they stand for, node by node; and the most any node alone would be off, K.

        A residual seen soon after a jump has not lasted long: it counts for the time since.
        """
        scaled, alone = np.empty_like(left), np.empty(left.shape[0])
        lasting = np.minimum(since_jump(self.times, self.model.program.breaks), self.shift)
        for k, row in enumerate(left):
            diagonal = self._pole(float(self.times[k])).diagonal + self.capacity / lasting[k]
            scaled[k] = row / np.sqrt(diagonal)
            alone[k] = np.abs(row / diagonal).max()
        return scaled, alone

    def _enrich(self, left: Floats, scaled: Floats, largest: float, alone: Floats) -> None:
        """Take up the leading directions of the residual, with the factor for the flows of their time."""
        poles = [self._pole(time) for time in self.times.tolist()]
        for pole in {id(pole): pole for pole in poles}.values():
            mine = [k for k, other in enumerate(poles) if other is pole]
            sizes, mixes = np.linalg.eigh(scaled[mine] @ scaled[mine].T)
            order = range(-1, -min(LEADS, sizes.size) - 1, -1)
            leads = [mixes[:, k] @ left[mine] for k in order if sizes[k] > (NEGLIGIBLE * largest) ** 2]
            worst = max(mine, key=lambda k: alone[k])
            if SAFETY * alone[worst] > self.tolerance:
                leads.append(left[worst])
            self._take_up(leads, pole.factor)

    def _take_up(self, leads: list[Floats], factor: Factor) -> None:
        depth = max(1, -(-DEPTH // max(len(leads), 1)))
        for lead in leads:
            load = lead
            for _ in range(depth):
                vector = self._solve(factor, load)
                self.basis.add(vector)
                load = self.capacity * vector
            if self.slow is not None:
                self.basis.add(self._solve(self.slow, lead))

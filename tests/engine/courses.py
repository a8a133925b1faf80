"""Histories of a case by either engine, started as a run starts them, and one set against the other."""

from dataclasses import dataclass

import numpy as np

from thermsim.case import Case
from thermsim.model.build import build
from thermsim.model.system import Model
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.dynamics import FullDynamics
from thermsim.solve.engine import Course, Start, course, spare_factor
from thermsim.solve.reduced.grow import Growth
from thermsim.solve.steady import Steady, SteadySolver
from thermsim.solve.transient import Transient
from thermsim.studies.run import calm_stretch, steady_at_end

FINER = 5  # of the reference's tolerance
LADDER = 2.0  # of the reference's steps: a small model's factors are cheap
SOON = 0.1  # s after a jump of the inputs, from when fields are compared
HASTY = 10.0  # K/s, past which a node is not: a massless one jumps when its fan starts, and a millisecond is 10 mK


@dataclass(frozen=True)
class Started:
    """A model and what a history of it starts from."""

    model: Model
    steadies: list[Steady]
    start: Start


def started(case: Case) -> Started:
    """What `run` works out before the history. Raises `NoPath` where it would."""
    model = build(case)
    solver = SteadySolver(model)
    calm = solver.solve(sum(calm_stretch(model)) / 2)
    last = steady_at_end(model, calm)
    steadies = [calm] if last is None or last is calm else [calm, last]
    return Started(model, steadies, Start(model, steadies, spare_factor(solver)))


@dataclass(frozen=True)
class Begun:
    """A growth before its first round, and the steady state that is its reference."""

    growth: Growth
    steady: Steady


def begun(case: Case) -> Begun:
    """As far as a basis gets before its first round."""
    with collect_ranges():
        ready = started(case)
        growth = Growth(ready.model, ready.steadies, ready.start.slow, case.spec.run.tolerance)
    return Begun(growth, ready.steadies[0])


def reduced_course(case: Case) -> tuple[Model, Course]:
    """A history by the reduced engine; by the full one where that falls back."""
    ready = started(case)
    return ready.model, course(ready.start)


@dataclass(frozen=True)
class Worst:
    """The largest error of a history (K), and where it was."""

    error: float
    time: float
    where: str


def true_error(model: Model, taken: Course) -> Worst:
    """Of all nodes at the ends of all steps of a finer reference, but for instants at which a node jumps."""
    jumps = np.array([0.0, *model.program.breaks])
    ours, field = list(taken.steps), taken.history.dynamics.field
    ends = np.array([step.last.time for step in ours])
    finer = Transient(FullDynamics(model), model.start(), model.case.spec.run.tolerance / FINER, LADDER)
    steps = list(finer.steps(model.case.spec.run.duration))
    rates = [np.abs(s.last.x - s.first.x) / (s.last.time - s.first.time) for s in steps]
    worst = Worst(0.0, 0.0, "")
    for step, before, after in zip(steps, rates, [*rates[1:], rates[-1]], strict=True):
        time = step.last.time
        if time - jumps[jumps < time].max(initial=0.0) < SOON:
            continue
        mine = ours[min(int(np.searchsorted(ends, time)), len(ours) - 1)]
        missed = np.where(np.maximum(before, after) < HASTY, np.abs(field(mine.at(time)) - step.last.x), 0.0)
        if missed.max() > worst.error:
            worst = Worst(float(missed.max()), time, model.name_of(int(missed.argmax())))
    return worst


def compared(case: Case) -> tuple[Course, Worst | None, float]:
    """The reduced history of a case, its true error, and what it states; no error if it fell back to the full one."""
    with collect_ranges():
        model, taken = reduced_course(case)
        if taken.reduced is None:
            return taken, None, 0.0
        return taken, true_error(model, taken), taken.reduced.indicator + case.spec.run.tolerance

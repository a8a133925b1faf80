"""Which engine makes a history: the reduced one, or the full one where that is asked for or needed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from thermsim.model.system import Model
from thermsim.solve.factor import Factor
from thermsim.solve.reduced.grow import Growth, NotReduced, Reduced
from thermsim.solve.steady import Steady, SteadySolver
from thermsim.solve.tr_bdf2 import Step
from thermsim.solve.transient import Standing, Transient

Engine = Literal["reduced", "full"]
SPARE_BYTES = 1e9
ENGINES: tuple[Engine, ...] = ("reduced", "full")


@dataclass(frozen=True)
class Course:
    """A history to be followed. `reduced`: how its basis was grown, None of the full engine; `fell_back`: and why."""

    history: Transient
    steps: Iterable[Step]
    reduced: Reduced | None = None
    fell_back: str | None = None

    @property
    def engine(self) -> Engine:
        """The engine that makes the steps."""
        return "full" if self.reduced is None else "reduced"

    def told(self) -> dict[str, object]:
        """What the history took, for the summary."""
        stages = self.history.stepper.stages
        found: dict[str, object] = {"engine": self.engine, "steps_rejected": self.history.rejected}
        if self.reduced is None:
            found |= {"factorisations": stages.factorisations, "solves": stages.solves}
            return found | ({"fell_back": self.fell_back} if self.fell_back else {})
        return found | {
            "factorisations": self.reduced.factorisations,
            "solves": self.reduced.solves,
            "basis_size": self.reduced.image.size,
            "indicator_k": self.reduced.indicator,
        }


@dataclass
class Start:
    """What a history starts from: steady states known of its inputs, and a factor of K left from finding them."""

    model: Model
    steadies: Sequence[Steady]
    slow: Factor | None = None
    resume: Standing | None = None
    progress: Callable[[float], None] | None = field(default=None, repr=False)


def spare_factor(solver: SteadySolver) -> Factor | None:
    """The factor a steady state was found with, taken from its solver; None where memory is better used otherwise."""
    factor, solver.factor = solver.factor, None
    return factor if factor is not None and factor.bytes < SPARE_BYTES else None


def full_course(start: Start, fell_back: str | None = None) -> Course:
    """A history by the full engine."""
    history = Transient.of(start.model)
    end = start.model.case.spec.run.duration
    return Course(history, history.steps(end, start.resume), fell_back=fell_back)


def course(start: Start, engine: Engine = "reduced") -> Course:
    """A history by an engine; by the full one, and with the reason, where the reduced one does not get there."""
    if engine == "full" or start.resume is not None:
        return full_course(start)
    try:
        growth = Growth(start.model, start.steadies, start.slow, start.model.case.spec.run.tolerance)
        reduced = growth.grow(start.progress)
    except NotReduced as reason:
        return full_course(start, str(reason))
    return Course(reduced.history, reduced.steps, reduced)

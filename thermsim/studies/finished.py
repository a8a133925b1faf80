"""A run that has ended, before it is summed up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.system import Model
from thermsim.solve.engine import Course
from thermsim.solve.record import Recorder
from thermsim.solve.steady import Steady


@dataclass(frozen=True)
class Finished:
    """A run that has ended: the model, steady states of its first calm stretch and of its end, the record.

    `end` is None where the inputs at the end lead to no steady state.
    """

    model: Model
    calm: Steady
    end: Steady | None
    stretch: tuple[float, float]  # s, the first stretch without a jump of the inputs
    course: Course
    record: Recorder
    reason: str
    timing: dict[str, float]
    notes: tuple[str, ...]

    @property
    def steadies(self) -> list[Steady]:
        """The steady states there are."""
        return [self.calm] if self.end is None else [self.calm, self.end]

    @property
    def comes_to_rest(self) -> bool:
        """Whether the inputs stand still at the end, so that its steady state would in time be reached."""
        duties = self.model.case.spec.duty.values()
        return self.calm.settles and not any(duty.repeat or duty.sine for duty in duties)

    def curve(self, group: str, name: str) -> Floats:
        """A recorded curve, shape (samples,)."""
        for curve, values in self.record.curves.items():
            if curve.group == group and curve.name == name:
                return np.asarray(values)
        raise KeyError(name)

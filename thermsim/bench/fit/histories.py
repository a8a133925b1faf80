"""What the model says of every logged run while the unknowns are moved: histories in the fields that span them.

The fields are grown over a few examples of each option; a history that they do not tell well enough is itself taken in
as an example, so that the next ones like it are told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from thermsim.bench.fit.unknowns import Unknown
from thermsim.bench.readings import modelled, readings_of
from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import rebuild
from thermsim.solve.adjoint import heat_at
from thermsim.solve.factor import SolveFailed
from thermsim.solve.reduced.family import Family
from thermsim.solve.reduced.grow import NotReduced, Reduced
from thermsim.studies.settled import Settler
from thermsim.studies.sweep.sampling import Draw

FINER = 0.5  # of the run's tolerance, so that small changes of the unknowns are told from steps
ASIDE = 0.05  # of an unknown, for the heat that a small change of it brings
MOST_EXAMPLES = 16  # of an option, taken in one after another


@dataclass
class Histories:
    """Histories of the runs of one option. `runs`: the case of each as it was logged, by name.

    `also`: cases whose fields are taken in from the first, driven otherwise than the runs.
    """

    option: str | None
    runs: Mapping[str, Case]
    unknowns: Sequence[Unknown]
    also: Sequence[Case] = ()
    told: int = field(default=0, init=False)  # by the fields
    in_full: int = field(default=0, init=False)  # each grown for itself, or by the full engine
    _examples: list[Case] = field(default_factory=list, init=False)
    _family: Family | None = field(default=None, init=False)
    _is_stuck: bool = field(default=False, init=False)  # no family could be grown of the last examples

    def changes(self, x: Floats) -> Draw:
        """Changes of the option's cases at some values of the unknowns."""
        pairs = zip(self.unknowns, x.tolist(), strict=True)
        return {address: value for one, at in pairs for address, value in one.changes(self.option, at).items()}

    def readings(
        self, run: str, x: Floats, channels: Sequence[str], times: Floats, driven: Case | None = None
    ) -> dict[str, Floats]:
        """The model's value of channels at times of a run, or of one `driven` otherwise. Raises `SolveFailed`."""
        case = (driven or self.runs[run]).with_changes(self.changes(x))
        history = self._history(case)
        if history is None:
            self.in_full += 1
            return modelled(case, channels, times)
        self.told += 1
        return readings_of(case, history, channels, times)

    def _history(self, case: Case) -> Reduced | None:
        if not self._examples:
            changes = self.changes(np.array([one.middle for one in self.unknowns]))
            first = next(iter(self.runs.values()))
            self._grow(*(case.with_changes(changes) for case in (first, *self.also)))
        history = self._family.history(case) if self._family else None
        if history is None and not self._is_stuck and len(self._examples) < MOST_EXAMPLES:
            self._grow(case)
            history = self._family.history(case) if self._family else None
        return history

    def _grow(self, *more: Case) -> None:
        """Grow the family anew with more examples; where that cannot be, the one before is kept."""
        self._examples += more
        tolerance = FINER * more[0].spec.run.tolerance
        try:
            self._family = Family.grow(self._examples, tolerance, self._loads())
        except (NotReduced, SolveFailed):
            self._is_stuck = True

    def _loads(self) -> list[Floats]:
        """Heat that a small change of each unknown brings into the first example, W by node."""
        case = self._examples[0]
        settled = Settler().settle(case)
        steady, found = settled.steady, []
        at_rest = heat_at(settled.model, steady.temperature, steady.speeds, steady.time)
        for unknown in self.unknowns:
            changed = unknown.changes(self.option, unknown.middle + ASIDE * max(unknown.scale, ASIDE))
            model = rebuild(settled.model, case.with_changes(changed)) if changed else None
            if model is not None:
                found.append(heat_at(model, steady.temperature, steady.speeds, steady.time) - at_rest)
        return found

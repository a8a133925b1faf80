"""What the model says of every logged run while the unknowns are moved: histories in the fields that span them.

The fields are grown over a few examples of each option; a history that they do not tell well enough is itself taken in
as an example, so that the next ones like it are told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

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
    _examples: int = field(default=0, init=False)  # that the family knows
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
        history = self._family.history(case) if self._family else None
        if history is not None or self._is_stuck or self._examples >= MOST_EXAMPLES:
            return history
        family = self._take_in(case)
        # in the same steps as its neighbours, if that may be: slopes are small differences
        return None if family is None else family.history(case) or family.newest

    def _take_in(self, case: Case) -> Family | None:
        """Let the family know one more example; None where that cannot be."""
        self._examples += 1
        try:
            if self._family is None:
                self._family = Family.grow([case], FINER * case.spec.run.tolerance, self._loads(case))
            else:
                self._family = self._family.extended(case)
        except (NotReduced, SolveFailed):
            self._is_stuck = True
            return None
        return self._family

    def _loads(self, case: Case) -> list[Floats]:
        """Heat that a small change of each unknown, or of what else is asked for, brings into a case, W by node."""
        settled = Settler().settle(case)
        steady, found = settled.steady, []
        at_rest = heat_at(settled.model, steady.temperature, steady.speeds, steady.time)
        for other in self._neighbours(case):
            model = rebuild(settled.model, other)
            if model is not None:
                found.append(heat_at(model, steady.temperature, steady.speeds, steady.time) - at_rest)
        return found

    def _neighbours(self, case: Case) -> Iterator[Case]:
        for unknown in self.unknowns:
            changed = unknown.changes(self.option, unknown.middle + ASIDE * max(unknown.scale, ASIDE))
            if changed:
                yield case.with_changes(changed)
        yield from self.also

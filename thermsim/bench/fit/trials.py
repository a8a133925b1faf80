"""What the model says of the runs at trial values of the unknowns, and how that answers to small changes of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from thermsim.bench.fit.data import RunData
from thermsim.bench.fit.histories import Histories
from thermsim.bench.fit.nuisance import warmer
from thermsim.bench.fit.unknowns import Unknown
from thermsim.case.case import Case
from thermsim.model.arrays import Floats

Told = dict[str, dict[str, Floats]]  # by run and channel
SAME = 1e-9  # of a logarithm or a shift
STEP = 0.25  # of an unknown's typical change, for its slopes
STEP_ENDS = (0.02, 0.1)  # of a logarithm
NEAR = 0.3  # of an unknown's typical change, within which slopes still serve
MANY = (4, 8)  # histories of a run that a fit takes about: for each unknown, and besides; for the progress


@dataclass
class Trials:
    """The runs and the unknowns. `held`: a run that is not shown to the fit."""

    runs: Sequence[RunData]
    held: str | None
    unknowns: Sequence[Unknown]
    progress: Callable[[float, float], None] | None = None
    evaluations: int = field(default=0, init=False)  # histories
    _last: tuple[Floats, Told] | None = field(default=None, init=False)
    _slopes: tuple[Floats, Told] | None = field(default=None, init=False)

    @cached_property
    def histories(self) -> dict[str | None, Histories]:
        """By option."""
        found = {}
        for option in dict.fromkeys(run.option for run in self.runs):
            mine = [run for run in self.runs if run.option == option]
            also = [case for _, case in warmer(mine[0])]
            found[option] = Histories(option, {run.name: run.case for run in mine}, self.unknowns, also)
        return found

    @cached_property
    def shown(self) -> list[RunData]:
        """The runs that are not held out."""
        return [run for run in self.runs if run.name != self.held]

    @cached_property
    def leaders(self) -> dict[str, RunData]:
        """By run the one, of those driven alike, that tells for all of them how readings answer: the longest."""
        order = sorted(self.runs, key=lambda run: (run.name == self.held, -run.time[-1]))
        return {run.name: next(one for one in order if one is run or one.is_like(run)) for run in self.runs}

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Bounds of the unknowns."""
        low, high = (np.array([getattr(one, end) for one in self.unknowns]) for end in ("low", "high"))
        return low, high

    @cached_property
    def own(self) -> Floats:
        """The case's own values of the unknowns, within their bounds."""
        return np.clip(np.zeros(len(self.unknowns)), *self.ends)

    @cached_property
    def at_rest(self) -> Told:
        """What the model says of all runs there."""
        return self.told(self.own, self.runs)

    def told(self, x: Floats, runs: Sequence[RunData] | None = None) -> Told:
        """Averaged as they were read, those that are shown unless `runs` are given. Raises `SolveFailed`."""
        if self._last is None or np.abs(x - self._last[0]).max() > SAME:
            self._last = x.copy(), {}
        known = self._last[1]
        asked = self.shown if runs is None else runs
        known |= {run.name: self.of_run(run, x) for run in asked if run.name not in known}
        return {run.name: known[run.name] for run in asked}

    def of_run(self, run: RunData, x: Floats, driven: Case | None = None) -> dict[str, Floats]:
        """Of one run, or as if it had been `driven` otherwise: every channel that any run of its option has."""
        channels = dict.fromkeys(name for one in self.runs if one.option == run.option for name in one.readings)
        told = self.histories[run.option].readings(run.name, x, list(channels), run.fine.time, driven)
        self.evaluations += 1
        if self.progress:
            self.progress(self.evaluations, len(self.runs) * (MANY[0] * len(self.unknowns) + MANY[1]))
        return run.averaged(told)

    def as_read(self, run: RunData, answers: dict[str, Floats]) -> dict[str, Floats]:
        """How a run's readings answer, shapes (n,) or (n, k), from how those of its leader do."""
        leader = self.leaders[run.name]
        return {name: answers[name] if leader is run else _at(run.time, leader.time, answers[name])
                for name in run.readings}  # fmt: skip

    def slopes(self, x: Floats) -> Told:
        """How the values change with the unknowns, shape (times, unknowns), of all runs.

        Taken anew only where the unknowns have moved since.
        """
        scale = np.array([one.scale for one in self.unknowns])
        if self._slopes is None or np.abs((x - self._slopes[0]) / scale).max() > NEAR:
            led = {one.name: one for one in self.leaders.values()}
            answers = {name: self._answers(one, x) for name, one in led.items()}
            mine = {run.name: self.as_read(run, answers[self.leaders[run.name].name]) for run in self.runs}
            self._slopes = x.copy(), mine
        return self._slopes[1]

    def _answers(self, run: RunData, x: Floats) -> dict[str, Floats]:
        rest = self.told(x, [run])[run.name]
        found = {name: np.zeros((run.time.size, x.size)) for name in rest}
        for k, unknown in enumerate(self.unknowns):
            if run.option not in unknown.targets:
                continue
            step = STEP * unknown.scale
            if unknown.is_factor:
                step = float(np.clip(step, *STEP_ENDS))
            aside = x.copy()
            aside[k] += step if x[k] + step <= unknown.high else -step
            moved = self.of_run(run, aside)
            for name, values in rest.items():
                found[name][:, k] = (moved[name] - values) / (aside[k] - x[k])
        return found


def _at(time: Floats, known: Floats, values: Floats) -> Floats:
    """Values, shape (n,) or (n, k), at other times; beyond the last as there."""
    columns = [np.interp(time, known, column) for column in np.atleast_2d(values.T)]
    found: Floats = columns[0] if values.ndim == 1 else np.stack(columns, axis=1)
    return found

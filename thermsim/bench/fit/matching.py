"""Matching the model to the runs: weighted least squares over whole transients of all runs and channels at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from thermsim.bench.fit.data import HeldOut, RunData
from thermsim.bench.fit.least_squares import Solution, least_squares
from thermsim.bench.fit.nuisance import Shift, shifts_of
from thermsim.bench.fit.trials import Told, Trials
from thermsim.bench.fit.unknowns import Unknown
from thermsim.bench.fit.weighing import BySeries, Weighing
from thermsim.bench.fit.weights import Noise
from thermsim.case.benching import Bench
from thermsim.model.arrays import Floats

ROUNDS = 4  # of weighing the readings anew by what was left
ROUGHLY, WITHIN = 1e-3, 1e-5  # relative, of the squares, where the first round and the others stop
STILL = 3e-4  # relative, of the values: time steps make smaller moves of them rough
FARTHEST = 10.0  # standard uncertainties, of a shift of a run
MOST = 25  # evaluations a round


@dataclass(frozen=True)
class Matched:
    """What was found. `x`: of the unknowns; `shifts`: of the runs, in their standard uncertainties.

    `solution` counts in the unknowns' scales, then the shifts, the rows of what was believed of both last. `noises`: by
    channel; residuals (model − measured) `before` and `after` and `slopes`: by channel and run, those held out too.
    """

    x: Floats
    shifts: Floats
    solution: Solution
    noises: Mapping[str, Noise]
    before: BySeries
    after: BySeries
    slopes: BySeries


@dataclass(frozen=True)
class Matching:
    """The runs at trial values of the unknowns, what is held out, and what the case says of its probes."""

    trials: Trials
    held: HeldOut
    bench: Bench

    @property
    def runs(self) -> Sequence[RunData]:
        """All of them."""
        return self.trials.runs

    @property
    def unknowns(self) -> Sequence[Unknown]:
        """In the order of every vector here."""
        return self.trials.unknowns

    @cached_property
    def weighing(self) -> Weighing:
        """What each reading counts."""
        return Weighing(self.runs, self.held, self.bench, self.trials.at_rest)

    @cached_property
    def shifts(self) -> list[Shift]:
        """What else may be off in the runs, answered at the case's own values."""
        return shifts_of(self.trials, self.bench.calibration)

    def residuals(self, told: Told, shifts: Floats | None = None) -> BySeries:
        """Model − measured of the runs that are told, NaN left out; with shifts in their uncertainties."""
        moved = [] if shifts is None else list(zip(shifts.tolist(), self.shifts, strict=True))
        found: BySeries = {}
        for run in self.runs:
            if run.name not in told:
                continue
            for channel, measured in run.readings.items():
                off = told[run.name][channel] - measured
                for shift, one in moved:
                    if run.name in one.answers:
                        off = off + shift * one.answers[run.name][channel]
                found.setdefault(channel, {})[run.name] = off[np.isfinite(measured)]
        return found

    def slopes(self, x: Floats) -> BySeries:
        """How the residuals of all runs change with the unknowns, then the shifts, shape (readings, p)."""
        found: BySeries = {}
        for name, mine in self.trials.slopes(x).items():
            run = next(one for one in self.runs if one.name == name)
            for channel, slopes in mine.items():
                none = np.zeros(run.time.size)
                moved = [shift.answers[name][channel] if name in shift.answers else none for shift in self.shifts]
                every = np.column_stack((slopes, *moved))
                found.setdefault(channel, {})[name] = every[np.isfinite(run.readings[channel])]
        return found

    def solve(self) -> Matched:
        """Find the unknowns; the readings are weighed anew by what each round leaves. Raises `SolveFailed`."""
        trials, weighing, more = self.trials, self.weighing, len(self.shifts)
        count = len(self.unknowns)
        middle = np.r_[[one.middle for one in self.unknowns], np.zeros(more)]
        scale = np.r_[[one.scale for one in self.unknowns], np.ones(more)]
        low, high = np.r_[trials.ends[0], np.full(more, -FARTHEST)], np.r_[trials.ends[1], np.full(more, FARTHEST)]
        pulls = np.r_[[float(one.pulls) for one in self.unknowns], np.ones(more)]
        noises = weighing.at_first()
        x = np.r_[trials.own, np.zeros(more)]

        def left(x: Floats) -> BySeries:
            return self.residuals(trials.told(x[:count]), x[count:])

        def rows(u: Floats) -> Floats:
            return np.concatenate((weighing.whiten(left(middle + scale * u), noises), pulls * u))

        def jacobian(u: Floats) -> Floats:
            shown = weighing.whiten(self.slopes((middle + scale * u)[:count]), noises) * scale
            return np.concatenate((shown, np.diag(pulls)))

        ends = (low - middle) / scale, (high - middle) / scale
        solution = least_squares(rows, (x - middle) / scale, *ends, jacobian, ROUGHLY, MOST, STILL)
        for k in range(1, ROUNDS):
            noises = weighing.as_left(noises, left(middle + scale * solution.values), is_last=k == ROUNDS - 1)
            solution = least_squares(rows, solution.values, *ends, jacobian, WITHIN, MOST, STILL)
        x = middle + scale * solution.values
        before, after = self.residuals(trials.at_rest), self.residuals(trials.told(x[:count], self.runs), x[count:])
        return Matched(x[:count], x[count:], solution, noises, before, after, self.slopes(x[:count]))

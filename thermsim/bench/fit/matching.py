"""Matching the model to the runs: weighted least squares over whole transients of all runs and channels at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from thermsim.bench.fit.data import HeldOut, RunData
from thermsim.bench.fit.histories import Histories
from thermsim.bench.fit.least_squares import Solution, least_squares
from thermsim.bench.fit.nuisance import Shift, shifts_of, warmer
from thermsim.bench.fit.unknowns import Unknown
from thermsim.bench.fit.weights import Noise, Series, as_left, of_form
from thermsim.case.benching import Bench
from thermsim.case.channels import is_temperature, split_channel
from thermsim.model.arrays import Floats

Told = dict[str, dict[str, Floats]]  # by run and channel
OUTLYING = 4.0  # standard uncertainties, from which a probe loses its say
ROUNDS = 4  # of weighing the readings anew by what was left
ROUGHLY, WITHIN = 1e-3, 1e-5  # relative, where the first round and the others stop
FARTHEST = 10.0  # standard uncertainties, of a shift of a run
MOST = 25  # evaluations a round
STEP = 0.25  # of an unknown's typical change, for its slopes
STEP_ENDS = (0.02, 0.1)  # of a logarithm
# shares of a rise, common practice, no source: what a model of this kind is good for at best, and how a probe's
# contact differs from run to run; then of time, as heat capacities are known
FORM, SEAT, PACE = 0.01, 0.003, 0.05
COMMON = 0.01  # of all rises of an option together: fan curves, losses to the room; common practice, no source
NEAR = 0.3  # of an unknown's typical change, within which slopes still serve
FLOW = (0.01, 0.03)  # of the reading: noise, calibration of a flow meter; common practice, no source
SPEED = (0.005, 0.005)  # of the rated speed, likewise


@dataclass
class Matching:
    """The runs, what is held out, and the unknowns; `solve` finds them. Slopes and residuals are model − measured."""

    runs: Sequence[RunData]
    held: HeldOut
    unknowns: Sequence[Unknown]
    bench: Bench
    progress: Callable[[float, float], None] | None = None
    evaluations: int = field(default=0, init=False)  # histories
    _last: tuple[bytes, Told] | None = field(default=None, init=False)
    _slopes: tuple[Floats, dict[str, dict[str, Floats]]] | None = field(default=None, init=False)

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
    def training(self) -> dict[str, list[RunData]]:
        """The runs that show each channel to the fit."""
        found: dict[str, list[RunData]] = {}
        for run in self.runs:
            for channel in run.readings:
                if run.name != self.held.run and channel != self.held.probe:
                    found.setdefault(channel, []).append(run)
        return found

    def told(self, x: Floats, runs: Sequence[RunData] | None = None) -> Told:
        """What the model says of each run's channels at values of the unknowns."""
        if runs is None and self._last is not None and self._last[0] == x.tobytes():
            return self._last[1]
        found: Told = {}
        for run in self.runs if runs is None else runs:
            told = self.histories[run.option].readings(run.name, x, list(run.readings), run.fine.time)
            found[run.name] = run.averaged(told)
            self.evaluations += 1
            if self.progress:
                self.progress(self.evaluations, self._expected)
        if runs is None:
            self._last = x.tobytes(), found
        return found

    @cached_property
    def shifts(self) -> list[Shift]:
        """What else may be off in the runs, answered at the case's own values."""
        found = shifts_of(self.runs, self.histories, self.own, self.bench.calibration)
        return found + [self._whole_box(option) for option in self.histories]

    def _whole_box(self, option: str | None) -> Shift:
        """Every rise of an option more or less by the same share, for what is known of the box as a whole."""
        answers = {
            run.name: {c: COMMON * _change(told, c) for c, told in self.at_rest[run.name].items() if is_temperature(c)}
            for run in self.runs
            if run.option == option
        }
        every = {run.name: {c: np.zeros_like(run.time) for c in run.readings} for run in self.runs}
        return Shift(f"rises of {option or 'base'}", COMMON, {n: every[n] | mine for n, mine in answers.items()})

    @cached_property
    def own(self) -> Floats:
        """The case's own values of the unknowns, within their bounds."""
        return np.clip(np.zeros(len(self.unknowns)), *self.ends)

    @cached_property
    def at_rest(self) -> Told:
        """What the model says there."""
        return self.told(self.own)

    @cached_property
    def series(self) -> dict[str, Series]:
        """What the series of each channel share, those shown to the fit."""
        told = self.at_rest
        return {
            channel: Series(
                tuple(run.option for run in runs),
                tuple(_rise(told[run.name][channel], run.readings[channel], channel) for run in runs),
                tuple(_pace(run.time, told[run.name][channel], run.readings[channel]) for run in runs),
            )
            for channel, runs in self.training.items()
        }

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Bounds of the unknowns."""
        low, high = (np.array([getattr(one, end) for one in self.unknowns]) for end in ("low", "high"))
        return low, high

    @cached_property
    def _expected(self) -> int:
        """Histories that a fit may take, for the progress."""
        return len(self.runs) * (4 * len(self.unknowns) + 8)

    def residuals(self, told: Told, shifts: Floats | None = None) -> dict[str, dict[str, Floats]]:
        """Model − measured by channel and run, all of them, NaN left out; with shifts in their uncertainties."""
        moved = [] if shifts is None else list(zip(shifts.tolist(), self.shifts, strict=True))
        found: dict[str, dict[str, Floats]] = {}
        for run in self.runs:
            for channel, measured in run.readings.items():
                if channel in told[run.name]:
                    off = told[run.name][channel] - measured
                    for shift, one in moved:
                        if run.name in one.answers:
                            off = off + shift * one.answers[run.name][channel]
                    found.setdefault(channel, {})[run.name] = off[np.isfinite(measured)]
        return found

    def slopes(self, x: Floats) -> dict[str, dict[str, Floats]]:
        """How the values change with the unknowns, then the shifts, by channel and run, shape (readings, p).

        Taken anew only where the unknowns have moved since.
        """
        scale = np.array([one.scale for one in self.unknowns])
        if self._slopes is None or np.abs((x - self._slopes[0]) / scale).max() > NEAR:
            self._slopes = x.copy(), self._slopes_at(x)
        return self._slopes[1]

    def _slopes_at(self, x: Floats) -> dict[str, dict[str, Floats]]:
        rest, count = self.told(x), len(self.unknowns)
        found = {
            channel: {name: np.zeros((off.size, count + len(self.shifts))) for name, off in mine.items()}
            for channel, mine in self.residuals(rest).items()
        }
        for k, one in enumerate(self.shifts):
            for name, answers in one.answers.items():
                for channel, answer in answers.items():
                    found[channel][name][:, count + k] = answer[np.isfinite(self.readings(name)[channel])]
        for k, unknown in enumerate(self.unknowns):
            step = STEP * unknown.scale
            if unknown.is_factor:
                step = float(np.clip(step, *STEP_ENDS))
            aside = x.copy()
            aside[k] += step if x[k] + step <= unknown.high else -step
            mine = [run for run in self.runs if run.option in unknown.targets]
            moved = self.told(aside, mine)
            for run in mine:
                for channel, measured in run.readings.items():
                    there = np.isfinite(measured)
                    change = (moved[run.name][channel] - rest[run.name][channel])[there]
                    found[channel][run.name][:, k] = change / (aside[k] - x[k])
        return found

    def rise(self, run: str, channel: str) -> Floats:
        """The rise by the model of a series, at the case's own values, missing readings left out."""
        return _rise(self.at_rest[run][channel], self.readings(run)[channel], channel)

    def readings(self, run: str) -> Mapping[str, Floats]:
        """What was measured in a run."""
        return next(one.readings for one in self.runs if one.name == run)

    def whiten(self, by_channel: Mapping[str, Mapping[str, Floats]], noises: Mapping[str, Noise]) -> Floats:
        """Rows of unit variance of what is shown to the fit, channel after channel."""
        rows = [
            self.series[channel].whiten(noises[channel], [by_channel[channel][run.name] for run in runs])
            for channel, runs in self.training.items()
        ]
        return np.concatenate(rows)

    def solve(self) -> Matched:
        """Find the unknowns; the readings are weighed anew by what each round leaves."""
        count, more = len(self.unknowns), len(self.shifts)
        middle = np.r_[[one.middle for one in self.unknowns], np.zeros(more)]
        scale = np.r_[[one.scale for one in self.unknowns], np.ones(more)]
        low, high = np.r_[self.ends[0], np.full(more, -FARTHEST)], np.r_[self.ends[1], np.full(more, FARTHEST)]
        pulls = np.r_[[float(one.pulls) for one in self.unknowns], np.ones(more)]
        noises = {channel: self.stated(channel) for channel in {c for run in self.runs for c in run.readings}}
        x = np.r_[self.own, np.zeros(more)]
        before = self.residuals(self.at_rest)

        def rows(u: Floats) -> Floats:
            x = middle + scale * u
            return np.concatenate((self.whiten(self.residuals(self.told(x[:count]), x[count:]), noises), pulls * u))

        def jacobian(u: Floats) -> Floats:
            shown = self.whiten(self.slopes((middle + scale * u)[:count]), noises) * scale
            return np.concatenate((shown, np.diag(pulls)))

        solution: Solution | None = None
        for k in range(ROUNDS):
            ends = (low - middle) / scale, (high - middle) / scale
            solution = least_squares(rows, (x - middle) / scale, *ends, jacobian, WITHIN if k else ROUGHLY, MOST)
            x = middle + scale * solution.values
            if k < ROUNDS - 1:
                left = self.residuals(self.told(x[:count]), x[count:])
                noises = self._as_left(noises, left, is_last=k == ROUNDS - 2)
        assert solution is not None
        after = self.residuals(self.told(x[:count]), x[count:])
        return Matched(x[:count], x[count:], solution, noises, before, after, self.slopes(x[:count]))

    def stated(self, channel: str) -> Noise:
        """What the case says, or practice, of a channel's readings."""
        _, _, quantity = split_channel(channel)
        if is_temperature(channel):
            wander = self.runs[0].case.spec.run.tolerance
            return Noise(self.bench.probe_noise, self.bench.calibration, FORM, SEAT, PACE, wander)
        if quantity == "flow":
            values = np.concatenate([run.readings[channel] for run in self.runs if channel in run.readings])
            size = max(float(np.nanmean(np.abs(values))), np.finfo(float).tiny)
            return Noise(FLOW[0] * size, FLOW[1] * size, FORM, SEAT, PACE)
        return Noise(*SPEED, FORM, SEAT, PACE)

    def _as_left(
        self, noises: Mapping[str, Noise], residuals: Mapping[str, Mapping[str, Floats]], is_last: bool
    ) -> dict[str, Noise]:
        """Noise by what was left: each channel's own spread, and the model's form by how far channels end off."""
        found = dict(noises)
        shares, expected = [], []
        for channel, runs in self.training.items():
            mine = [residuals[channel][run.name] for run in runs]
            found[channel] = as_left(self.stated(channel), self.series[channel], mine)
            if is_temperature(channel):
                rise = max(float(np.abs(one).max()) for one in self.series[channel].rises)
                ends = [float(one[-max(1, one.size // 10) :].mean()) for one in mine]
                off, usual = abs(float(np.mean(ends))), float(np.hypot(found[channel].calibration, FORM * rise))
                if off > OUTLYING * usual:  # it may have come off: it counts no more than it agrees
                    found[channel] = replace(found[channel], calibration=off)
                else:
                    shares.append(float(np.mean(ends)) / max(rise, 1.0))
                    expected.append(found[channel].calibration / max(rise, 1.0))
        form = max(FORM, of_form(shares, expected)) if is_last else FORM  # once probes that came off are known
        probe = self.held.probe
        likes = [found[channel] for channel in self.training if is_temperature(channel)]
        if probe in found and likes:  # what the others are like
            spread, repeats = (
                float(np.median([getattr(one, key) for one in likes])) for key in ("reading", "inflation")
            )
            found[probe] = replace(found[probe], reading=spread, inflation=repeats)
        return {channel: replace(one, form=form) for channel, one in found.items()}


def _rise(told: Floats, measured: Floats, channel: str) -> Floats:
    """A series' change since switch-on by the model; of flows and speeds the value itself, for those jump."""
    return _change(told, channel)[np.isfinite(measured)]


def _change(told: Floats, channel: str) -> Floats:
    return told - told[0] if is_temperature(channel) else told


def _pace(time: Floats, told: Floats, measured: Floats) -> Floats:
    """What a share of time more does to a series: time times its rate of change by the model."""
    pace: Floats = (time * np.gradient(told, time))[np.isfinite(measured)]
    return pace


@dataclass(frozen=True)
class Matched:
    """What was found. `x`: of the unknowns; `shifts`: of the runs, in their standard uncertainties.

    `solution` counts in the unknowns' scales, then the shifts, the rows of what was believed of both last. `noises`: by
    channel; residuals (model − measured) `before` and `after` and `slopes`: by channel and run.
    """

    x: Floats
    shifts: Floats
    solution: Solution
    noises: Mapping[str, Noise]
    before: Mapping[str, Mapping[str, Floats]]
    after: Mapping[str, Mapping[str, Floats]]
    slopes: Mapping[str, Mapping[str, Floats]]

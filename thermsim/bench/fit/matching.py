"""Matching the model to the runs: weighted least squares over whole transients of all runs and channels at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from thermsim.bench.fit.data import HeldOut, RunData
from thermsim.bench.fit.histories import Histories
from thermsim.bench.fit.least_squares import Solution, least_squares
from thermsim.bench.fit.unknowns import Unknown
from thermsim.bench.fit.weights import Noise, as_left, of_form
from thermsim.case.benching import Bench
from thermsim.case.channels import is_temperature, split_channel
from thermsim.model.arrays import Floats

Told = dict[str, dict[str, Floats]]  # by run and channel
ROUNDS = 3  # of weighing the readings anew by what was left
WITHIN = 1e-5  # relative, where a round stops
MOST = 25  # evaluations a round
STEP = 0.25  # of an unknown's typical change, for its slopes
STEP_ENDS = (0.02, 0.1)  # of a logarithm
ROOM_GRADIENT = 0.1  # K, standard uncertainty from run to run where one probe reads the room; common practice, no source
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

    @cached_property
    def histories(self) -> dict[str | None, Histories]:
        """By option."""
        options = dict.fromkeys(run.option for run in self.runs)
        return {
            option: Histories(option, {run.name: run.case for run in self.runs if run.option == option}, self.unknowns)
            for option in options
        }

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
            found[run.name] = self.histories[run.option].readings(run.name, x, list(run.readings), run.time)
            self.evaluations += 1
            if self.progress:
                self.progress(self.evaluations, self._expected)
        if runs is None:
            self._last = x.tobytes(), found
        return found

    @cached_property
    def _expected(self) -> int:
        """Histories that a fit may take, for the progress."""
        return len(self.runs) * (4 * len(self.unknowns) + 8)

    def residuals(self, told: Told) -> dict[str, dict[str, Floats]]:
        """Model − measured by channel and run, all of them, NaN left out."""
        found: dict[str, dict[str, Floats]] = {}
        for run in self.runs:
            for channel, measured in run.readings.items():
                if channel in told[run.name]:
                    off = told[run.name][channel] - measured
                    found.setdefault(channel, {})[run.name] = off[np.isfinite(measured)]
        return found

    def slopes(self, x: Floats) -> dict[str, dict[str, Floats]]:
        """How the model's values change with the unknowns, by channel and run, shape (readings, unknowns)."""
        rest = self.told(x)
        found = {
            channel: {name: np.zeros((off.size, len(self.unknowns))) for name, off in mine.items()}
            for channel, mine in self.residuals(rest).items()
        }
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

    def whiten(self, by_channel: Mapping[str, Mapping[str, Floats]], noises: Mapping[str, Noise]) -> Floats:
        """Rows of unit variance of what is shown to the fit, channel after channel."""
        rows = [
            noises[channel].whiten([by_channel[channel][run.name] for run in runs], [run.option for run in runs])
            for channel, runs in self.training.items()
        ]
        return np.concatenate(rows)

    def solve(self) -> Matched:
        """Find the unknowns; the readings are weighed anew by what each round leaves."""
        middle = np.array([one.middle for one in self.unknowns])
        scale = np.array([one.scale for one in self.unknowns])
        low, high = (np.array([getattr(one, end) for one in self.unknowns]) for end in ("low", "high"))
        pulls = np.array([one.pulls for one in self.unknowns], dtype=float)
        noises = {channel: self._stated(channel) for channel in {c for run in self.runs for c in run.readings}}
        x = np.clip(np.zeros(middle.size), low, high)
        before = self.residuals(self.told(x))

        def rows(u: Floats) -> Floats:
            shown = self.whiten(self.residuals(self.told(middle + scale * u)), noises)
            return np.concatenate((shown, pulls * u))

        def jacobian(u: Floats) -> Floats:
            shown = self.whiten(self.slopes(middle + scale * u), noises) * scale
            return np.concatenate((shown, np.diag(pulls)))

        solution: Solution | None = None
        for k in range(ROUNDS):
            ends = (low - middle) / scale, (high - middle) / scale
            solution = least_squares(rows, (x - middle) / scale, *ends, jacobian, WITHIN if k else 1e-3, MOST)
            x = middle + scale * solution.values
            if k < ROUNDS - 1:
                noises = self._as_left(noises, self.residuals(self.told(x)))
        assert solution is not None
        told = self.told(x)
        return Matched(x, solution, noises, before, self.residuals(told), self.slopes(x), told)

    def _stated(self, channel: str) -> Noise:
        """What the case says, or practice, of a channel's readings."""
        kind, _, quantity = split_channel(channel)
        if is_temperature(channel):
            return Noise(self.bench.probe_noise, self.bench.calibration, ROOM_GRADIENT)
        if quantity == "flow":
            values = np.concatenate([run.readings[channel] for run in self.runs if channel in run.readings])
            size = max(float(np.nanmean(np.abs(values))), np.finfo(float).tiny)
            return Noise(FLOW[0] * size, FLOW[1] * size, FLOW[0] * size)
        return Noise(*SPEED, SPEED[0])

    def _as_left(self, noises: Mapping[str, Noise], residuals: Mapping[str, Mapping[str, Floats]]) -> dict[str, Noise]:
        """Noise by what was left: each channel's own spread, and the model's form by the scatter of their offsets."""
        found = dict(noises)
        offsets, expected = [], []
        for channel, runs in self.training.items():
            mine = [residuals[channel][run.name] for run in runs]
            found[channel] = as_left(self._stated(channel), mine)
            if is_temperature(channel):
                offsets.append(float(np.mean([one.mean() for one in mine])))
                stated = found[channel]
                expected.append(float(np.hypot(stated.calibration, stated.run / np.sqrt(len(mine)))))
        form = of_form(offsets, expected)
        probe = self.held.probe
        if probe is not None and probe in found:  # what the others are like
            spreads = [found[c].reading for c in self.training if is_temperature(c)]
            repeats = [found[c].inflation for c in self.training if is_temperature(c)]
            if spreads:
                found[probe] = replace(found[probe], reading=float(np.median(spreads)), inflation=float(np.median(repeats)))
        return {c: replace(one, form=form if is_temperature(c) else 0.0) for c, one in found.items()}


@dataclass(frozen=True)
class Matched:
    """What was found: unknowns, the last solution (in the unknowns' scales, prior rows last), noise by channel,
    residuals before and after, slopes, and the model's values by run and channel."""

    x: Floats
    solution: Solution
    noises: Mapping[str, Noise]
    before: Mapping[str, Mapping[str, Floats]]
    after: Mapping[str, Mapping[str, Floats]]
    slopes: Mapping[str, Mapping[str, Floats]]
    told: Told

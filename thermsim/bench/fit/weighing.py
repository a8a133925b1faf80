"""What each reading of the runs counts: by what the case says of its probe, then by what a fit left of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from thermsim.bench.fit.data import HeldOut, RunData
from thermsim.bench.fit.weights import Noise, Series, as_left, of_form
from thermsim.case.benching import Bench
from thermsim.case.channels import is_temperature, split_channel
from thermsim.model.arrays import Floats

BySeries = dict[str, dict[str, Floats]]  # by channel and run
OUTLYING = 4.0  # standard uncertainties, from which a probe loses its say
# shares of a rise, common practice, no source: what a model of this kind is good for at best, and how a probe's
# contact differs from run to run; then of time, as heat capacities are known
FORM, SEAT, PACE = 0.01, 0.003, 0.05
FLOW = (0.01, 0.03)  # of the reading: noise, calibration of a flow meter; common practice, no source
SPEED = (0.005, 0.005)  # of the rated speed, likewise
TAIL = 0.1  # of a series, whose mean is its end


@dataclass(frozen=True)
class Weighing:
    """The runs, what is held out of them, and the model at the case's own values, by run and channel."""

    runs: Sequence[RunData]
    held: HeldOut
    bench: Bench
    at_rest: Mapping[str, Mapping[str, Floats]]

    @cached_property
    def training(self) -> dict[str, list[RunData]]:
        """The runs that show each channel to the fit."""
        found: dict[str, list[RunData]] = {}
        for run in self.runs:
            for channel in run.readings:
                if run.name != self.held.run and channel != self.held.probe:
                    found.setdefault(channel, []).append(run)
        return found

    @cached_property
    def series(self) -> dict[str, Series]:
        """What the series of each channel share, those shown to the fit."""
        return {
            channel: Series(
                tuple(run.option for run in runs),
                tuple(self.rise(run, channel) for run in runs),
                tuple(_pace(run.time, self.at_rest[run.name][channel], run.readings[channel]) for run in runs),
            )
            for channel, runs in self.training.items()
        }

    def rise(self, run: RunData, channel: str) -> Floats:
        """Change of a series since switch-on by the model, missing readings left out; of flows and speeds the value."""
        return change(self.at_rest[run.name][channel], channel)[np.isfinite(run.readings[channel])]

    def whiten(self, by_channel: Mapping[str, Mapping[str, Floats]], noises: Mapping[str, Noise]) -> Floats:
        """Rows of unit variance of what is shown to the fit, channel after channel."""
        rows = [
            self.series[channel].whiten(noises[channel], [by_channel[channel][run.name] for run in runs])
            for channel, runs in self.training.items()
        ]
        return np.concatenate(rows)

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

    def at_first(self) -> dict[str, Noise]:
        """Of every channel what is stated."""
        return {channel: self.stated(channel) for run in self.runs for channel in run.readings}

    def as_left(self, noises: Mapping[str, Noise], residuals: BySeries, is_last: bool) -> dict[str, Noise]:
        """Noise by what was left: each channel's own spread, and the model's form by how far channels end off.

        The form only `is_last`, once probes that came off are known.
        """
        found = dict(noises)
        shares, expected = [], []
        for channel, runs in self.training.items():
            mine = [residuals[channel][run.name] for run in runs]
            found[channel] = as_left(self.stated(channel), self.series[channel], mine)
            if not is_temperature(channel):
                continue
            rise = max(float(np.abs(one).max()) for one in self.series[channel].rises)
            off = float(np.mean([end_of(one) for one in mine]))
            if abs(off) > OUTLYING * np.hypot(found[channel].calibration, FORM * rise):
                # it may have come off: it counts no more than it agrees
                found[channel] = replace(found[channel], calibration=abs(off))
            else:
                shares.append(off / max(rise, 1.0))
                expected.append(found[channel].calibration / max(rise, 1.0))
        form = max(FORM, of_form(shares, expected)) if is_last else FORM
        self._like_the_others(found)
        return {channel: replace(one, form=form) for channel, one in found.items()}

    def _like_the_others(self, found: dict[str, Noise]) -> None:
        """Let the probe that is held out be as noisy as the middle one of those shown."""
        likes = [found[channel] for channel in self.training if is_temperature(channel)]
        if self.held.probe in found and likes:
            reading, repeats = (
                float(np.median([getattr(one, key) for one in likes])) for key in ("reading", "inflation")
            )
            found[self.held.probe] = replace(found[self.held.probe], reading=reading, inflation=repeats)


def end_of(series: Floats) -> float:
    """Mean of a series' last tenth."""
    return float(series[-max(1, round(TAIL * series.size)) :].mean())


def change(told: Floats, channel: str) -> Floats:
    """A curve's change since switch-on; of flows and speeds the value itself, for those jump."""
    return told - told[0] if is_temperature(channel) else told


def _pace(time: Floats, told: Floats, measured: Floats) -> Floats:
    """What a share of time more does to a series: time times its rate of change by the model."""
    pace: Floats = (time * np.gradient(told, time))[np.isfinite(measured)]
    return pace

"""How far off the model was, and is, channel by channel and run by run; thinned traces of it for figures."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermsim.bench.fit.worth import Worth
from thermsim.case.channels import is_temperature
from thermsim.model.arrays import Floats

TRACE = 60  # points of a trace
DIGITS = 4


def channel_facts(worth: Worth) -> list[dict[str, Any]]:
    """By channel: bias and rms before and after, its weighted squares, offsets, noise; the worst first.

    `z`: the mean offset over all runs the fit saw, in its standard uncertainties.
    """
    matching, matched = worth.matching, worth.matched
    found = []
    for channel, runs in matching.weighing.training.items():
        noise = matched.noises[channel]
        after, before = ([told[channel][run.name] for run in runs] for told in (matched.after, matched.before))
        series = matching.weighing.series[channel]
        rows = series.whiten(noise, after)
        bias = float(np.mean([one.mean() for one in after]))
        rise = float(np.mean([np.abs(one).mean() for one in series.rises]))
        spread = float(np.hypot(matching.weighing.stated(channel).calibration, noise.form * rise))
        every, first = np.concatenate(after), np.concatenate(before)
        found.append({
            "channel": channel, "runs": [run.name for run in runs], "readings": int(every.size),
            "bias_before": float(np.mean([one.mean() for one in before])), "bias": bias,
            "rms_before": _rms(first), "rms": _rms(every), "worst_end": _worst_end(after),
            "noise": noise.reading, "readings_per_independent_one": noise.inflation,
            "chi_square_per_reading": float(rows @ rows) / series.independent(noise), "z": bias / spread,
        })  # fmt: skip
    return sorted(found, key=lambda one: -abs(one["z"]))


def _worst_end(series: list[Floats]) -> float:
    ends = [float(one[-max(1, one.size // 10) :].mean()) for one in series]
    return max(ends, key=abs)


def traces(worth: Worth) -> list[dict[str, Any]]:
    """Residuals (model − measured) before and after, of every series, thinned."""
    matching, matched = worth.matching, worth.matched
    found = []
    for run in matching.runs:
        for channel, measured in run.readings.items():
            if run.name not in matched.after.get(channel, {}):
                continue
            time = run.time[np.isfinite(measured)]
            pick = np.unique(np.linspace(0, time.size - 1, min(TRACE, time.size)).astype(int))
            found.append({
                "run": run.name, "option": run.option or "base", "channel": channel,
                "held": run.name == matching.held.run or channel == matching.held.probe,
                "time_s": time[pick].round(1).tolist(),
                "before": matched.before[channel][run.name][pick].round(DIGITS).tolist(),
                "after": matched.after[channel][run.name][pick].round(DIGITS).tolist(),
            })  # fmt: skip
    return found


def training_rms(worth: Worth) -> tuple[float, float]:
    """Root mean square of all temperatures that the fit saw, before and after, K."""
    matching, matched = worth.matching, worth.matched

    told = []
    for residuals in (matched.before, matched.after):
        rows = [
            residuals[channel][run.name]
            for channel, runs in matching.weighing.training.items() if is_temperature(channel) for run in runs
        ]  # fmt: skip
        told.append(_rms(np.concatenate(rows)) if rows else 0.0)
    return told[0], told[1]


def explained_rms(worth: Worth) -> float:
    """What noise, calibration and the form of a fair model would leave of the same, K."""
    weighing = worth.matching.weighing
    parts = []
    for channel in weighing.training:
        stated = weighing.stated(channel)
        if is_temperature(channel):
            for rise in weighing.series[channel].rises:
                offset = stated.reading**2 + stated.calibration**2
                parts.append(offset + (stated.form**2 + stated.seat**2) * rise**2)
    return float(np.sqrt(np.concatenate(parts).mean())) if parts else 0.0


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))

"""Does the fit hold for what it did not see: predictions with their uncertainty beside what was measured."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt
from typing import Any

import numpy as np

from thermsim.bench.fit.data import RunData
from thermsim.bench.fit.worth import Worth
from thermsim.model.arrays import Floats

TAIL = 0.1  # of a run, whose mean is compared
NORMAL_95 = 1.96
CHANCE = 0.01  # probability of so many series outside, or of one so far, under which it is no chance


def held_out_facts(worth: Worth) -> dict[str, Any]:
    """By series that the fit did not see: error at the run's end and its standard uncertainty; how many are outside."""
    held = worth.matching.held
    series = list(_series(worth))
    outside = sum(not one["inside"] for one in series)
    return {
        "probe": held.probe, "run": held.run, "why": list(held.why), "series": series,
        "count": len(series), "outside": outside,
        "inside": _is_chance(series) if series else None,
        "rms_before": _rms([one["rms_before"] for one in series]),
        "rms_after": _rms([one["rms_after"] for one in series]),
        "of_probe": _of(series, "probe", held.probe), "of_run": _of(series, "run", held.run),
    }  # fmt: skip


def _of(series: list[dict[str, Any]], why: str, name: str | None) -> dict[str, Any] | None:
    mine = [one for one in series if one["held_as"] == why]
    if name is None or not mine:
        return None
    outside = [one for one in mine if not one["inside"]]
    return {
        "name": name, "count": len(mine), "outside": len(outside), "inside": _is_chance(mine),
        "worst": max(mine, key=lambda one: abs(one["error"]) / one["u"]),
        "rms_before": _rms([one["rms_before"] for one in mine]), "rms_after": _rms([one["rms_after"] for one in mine]),
    }  # fmt: skip


def _series(worth: Worth) -> Iterator[dict[str, Any]]:
    matching, matched = worth.matching, worth.matched
    for run in matching.runs:
        for channel in run.readings:
            if channel not in matched.after or run.name not in matched.after[channel]:
                continue
            as_run, as_probe = run.name == matching.held.run, channel == matching.held.probe
            if not (as_run or as_probe):
                continue
            after, before = (found[channel][run.name] for found in (matched.after, matched.before))
            tail = slice(-max(1, round(TAIL * after.size)), None)
            offset, parts = _budget(worth, channel, run, tail)
            error = float(after[tail].mean()) - offset
            u = sqrt(sum(part**2 for part in parts.values()))
            yield {
                "run": run.name, "option": run.option or "base", "channel": channel,
                "held_as": "probe" if as_probe else "run",
                "measured": float(_measured(run.readings[channel])[tail].mean()),
                "error": error, "u": u, "inside": bool(abs(error) <= NORMAL_95 * u), "budget": parts,
                "error_before": float(before[tail].mean()), "offset": offset,
                "rms_before": _rms(before), "rms_after": _rms(after),
            }  # fmt: skip


def _measured(values: Floats) -> Floats:
    return values[np.isfinite(values)]


def _budget(worth: Worth, channel: str, run: RunData, tail: slice) -> tuple[float, dict[str, float]]:
    """What the same probe was off by in the runs that the fit saw, and why the prediction's end is not sure."""
    matching, matched, noise = worth.matching, worth.matched, worth.matched.noises[channel]
    slopes = matched.slopes[channel][run.name][tail]
    mean, count = slopes.mean(axis=0), len(worth.unknowns)
    measured = run.readings[channel]
    rise = matching.weighing.rise(run, channel)[tail].mean()
    offset, left = 0.0, noise.calibration**2 + (noise.form * rise) ** 2
    scatter = noise.reading**2 * noise.inflation / np.isfinite(measured).sum() + (noise.seat * rise) ** 2
    seen = [
        matched.after[channel][one.name][tail].mean()
        for one in matching.weighing.training.get(channel, []) if one.option == run.option
    ]  # fmt: skip
    if seen:  # what the same probe showed before is told, less its own scatter
        each = scatter / len(seen)
        offset = float(np.mean(seen)) * left / (left + each)
        left = left * each / (left + each)
    return offset, {
        "unknowns": sqrt(max(float(mean[:count] @ worth.covariance @ mean[:count]), 0.0)),
        "readings": noise.reading / sqrt(max(slopes.shape[0] / noise.inflation, 1.0)),
        "calibration and form": float(np.sqrt(left)),
        "room, inlets and start": float(np.linalg.norm(mean[count:])) if run.name == matching.held.run else 0.0,
        "seat of the probe": float(abs(noise.seat * rise)),
    }


def _rms(values: Any) -> float:
    found = np.asarray(values, dtype=float)
    return float(np.sqrt(np.mean(found**2))) if found.size else 0.0


def _is_chance(series: list[dict[str, Any]]) -> bool:
    """Whether those outside may be so by chance: not too many, one in twenty being so, and none by too much.

    Series of one probe are off together: they count as one, by the worst.
    """
    from scipy.stats import binom, norm

    of_run = [one for one in series if one["held_as"] == "run"]
    count = len(of_run) + (len(of_run) < len(series))
    worst = max(abs(one["error"]) / one["u"] for one in series)
    if worst > norm.isf(CHANCE / 2 / count):
        return False
    outside = sum(not one["inside"] for one in of_run)
    return bool(binom.sf(outside - 1, count, 0.05) > CHANCE)

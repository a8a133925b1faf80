"""What is matched against: the runs' readings that the model has a value for, and which of them are held out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermsim.bench.fit.unknowns import Unknown
from thermsim.bench.logged import as_logged, inputs_of
from thermsim.bench.readings import told_channels
from thermsim.case.case import Case
from thermsim.case.channels import is_temperature, split_channel
from thermsim.case.errors import CaseError
from thermsim.case.fitting import NONE
from thermsim.case.targets import value_at
from thermsim.model.arrays import Floats
from thermsim.model.build import build

if TYPE_CHECKING:
    from thermsim.bench.logs.log import Log
    from thermsim.bench.logs.runs import BenchRun

STEPS = 240  # of the longest run, that readings are averaged over
FINE = 4  # readings an average, about, that the model is asked at
FEWEST = 6  # averaged readings of a channel in a run
ALIKE = 2.0  # K, between the means of rooms or inlets; slopes of films and radiation then differ by a per cent or so
NOT_DRIVING = {"humidity", "noise.background"}  # inputs that move no temperature
MATCHED = ("fan", "pump")  # kinds of channel besides temperatures and flows


@dataclass(frozen=True)
class RunData:
    """One run: the case as it was logged, and averaged readings by channel (NaN where missing) at times, s.

    `fine`: the log as it was, or a few readings an average where it has many.
    """

    name: str
    option: str | None
    case: Case
    log: Log
    time: Floats
    readings: Mapping[str, Floats]
    fine: Log
    step: float  # s, that they are averaged over

    def averaged(self, told: Mapping[str, Floats]) -> dict[str, Floats]:
        """Values at the fine log's times averaged as its readings were: early curves bend within a step."""
        return dict(replace(self.fine, readings=told).averaged(self.step).readings)

    def is_like(self, other: RunData) -> bool:
        """Whether its readings answer to small changes as another's: the same box, driven by rooms and inlets alike."""
        mine, theirs = self._drivers(), other._drivers()
        if self.option != other.option or mine is None or theirs is None or mine.keys() != theirs.keys():
            return False
        is_same_load = self.log.texts.get("state") == other.log.texts.get("state")
        return is_same_load and all(abs(mine[name] - theirs[name]) < ALIKE for name in mine)

    def _drivers(self) -> dict[str, float] | None:
        """Means of what drives it, °C; None where that is more than temperatures."""
        names = set(inputs_of(self.case, self.log.readings)) - NOT_DRIVING
        if not all(is_temperature(name) for name in names):
            return None
        return {name: float(np.nanmean(self.log.readings[name])) for name in names}


@dataclass(frozen=True)
class HeldOut:
    """What the fit does not see, and why that."""

    probe: str | None
    run: str | None
    why: tuple[str, ...]


def run_data(case: Case, runs: Sequence[BenchRun]) -> list[RunData]:
    """Runs as the fit takes them. Raises `CaseError` where no run has a channel that the model tells."""
    longest = max((float(run.log.time[-1]) for run in runs if run.log.time.size), default=0.0)
    if not runs or longest <= 0:
        raise CaseError([case.problem(("bench", "run"), 'no run to match; name its log, [bench.run."before 1"]')])
    step = case.spec.fit.step or max(longest / STEPS, 1.0)
    found = []
    for run in runs:
        variant = as_logged(case.with_option(run.option), run.log)
        fine = run.log if run.log.interval * FINE >= step else run.log.averaged(step / FINE)
        log = fine.averaged(step)
        given = set(inputs_of(variant, log.readings))
        model = build(variant)
        wanted = [channel for channel in log.readings if channel not in given and is_matched(channel)]
        told = told_channels(model, wanted)
        readings = {name: log.readings[name] for name in told if np.isfinite(log.readings[name]).sum() >= FEWEST}
        if not readings:
            message = "has no channel that the model tells: map its columns to parts, probes, air or coolant"
            raise CaseError([case.problem(("bench", "run", run.name), message)])
        found.append(RunData(run.name, run.option, variant, run.log, log.time, readings, fine, step))
    return found


def is_matched(channel: str) -> bool:
    """Whether a channel is one the fit looks at: temperatures, flows, speeds."""
    kind, _, quantity = split_channel(channel)
    named = kind in ("part", "probe", "airway", "plate", "block", "radiator", "hose", "reservoir")
    return (is_temperature(channel) and named) or quantity == "flow" or kind in MATCHED


def held_out(case: Case, runs: Sequence[RunData], unknowns: Sequence[Unknown]) -> HeldOut:
    """What is held out: as the case says, or by rule. Raises `CaseError` where nothing would be left."""
    asked, why = case.spec.fit.hold_out, []
    run, probe = asked.run, asked.probe
    if run is None:
        run = _usual_run(runs)
        why.append(
            f"{run}: the last run of the option that has most" if run else "no option has a second run to hold out"
        )
    elif run == NONE:
        run = None
    elif len({one.name for one in runs} - {run}) == 0:
        message = f'holding out "{run}" leaves no run to match'
        raise CaseError([case.problem(("fit", "hold_out", "run"), message)])
    if probe is None:
        probe = _usual_probe(runs, unknowns)
        why.append(f"{probe}: in the middle by its rise" if probe else "too few probes to hold one out")
    elif probe == NONE:
        probe = None
    elif not any(probe in one.readings for one in runs):
        message = f'"{probe}" was not logged, or has no value in the model'
        raise CaseError([case.problem(("fit", "hold_out", "probe"), message)])
    if probe is not None and all(set(one.readings) <= {probe} for one in runs if one.name != run):
        message = f'holding out "{probe}" leaves nothing to match'
        raise CaseError([case.problem(("fit", "hold_out", "probe"), message)])
    return HeldOut(probe, run, tuple(why))


def _usual_run(runs: Sequence[RunData]) -> str | None:
    count: dict[str | None, int] = {}
    for one in runs:
        count[one.option] = count.get(one.option, 0) + 1
    most = max(count, key=lambda option: count[option])
    return [one.name for one in runs if one.option == most][-1] if count[most] > 1 else None


def _usual_probe(runs: Sequence[RunData], unknowns: Sequence[Unknown]) -> str | None:
    """Of the parts and probes logged in every run, and not at an unknown, the one in the middle by its rise."""
    shared = [
        name for name in runs[0].readings
        if split_channel(name)[0] in ("part", "probe") and all(name in one.readings for one in runs)
    ]  # fmt: skip
    near = {address for unknown in unknowns for address in _near(runs, unknown)}
    free = [name for name in shared if name not in near]
    if len(shared) < 3 or not free:
        return None
    last = {name: float(runs[0].readings[name][np.isfinite(runs[0].readings[name])][-1]) for name in free}
    order = sorted(free, key=lambda name: last[name])
    return order[(len(order) - 1) // 2]


def _near(runs: Sequence[RunData], unknown: Unknown) -> set[str]:
    """Addresses of what a single unknown joins, for its reading is what tells it; groups have several to tell them."""
    every = [(run.case, one) for run in runs for one in unknown.targets.get(run.option, ())]
    if len({one.address for _, one in every}) > 2:
        return set()
    found: set[str] = set()
    for case, one in every:
        found.add(f"{one.path[0]}.{one.path[1]}")
        for key in ("between", "on"):
            named = value_at(case.spec, (*one.path[:2], key))
            found.update([named] if isinstance(named, str) else named or ())
    return found

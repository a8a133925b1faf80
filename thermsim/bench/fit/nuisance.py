"""What shifts a whole run and is no unknown of the case: its start, room and inlets were read by probes that are off.

How the readings answer is found once, by running each run a little warmer. The fit finds these shifts with the
unknowns, held to zero by their standard uncertainties.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermsim.bench.fit.data import RunData
from thermsim.bench.fit.weighing import change
from thermsim.bench.logged import as_logged, inputs_of
from thermsim.case.case import Case
from thermsim.case.channels import is_temperature
from thermsim.model.arrays import Floats

if TYPE_CHECKING:
    from thermsim.bench.fit.trials import Trials

ASIDE = 0.5  # K, for the answers
START = 0.15  # K, from one place of a box at rest to another; common practice, no source
GRADIENT = 0.1  # K, of a room's air between its probe and the box, from run to run; common practice, no source
UNREAD = 0.5  # K, of a room that nobody read; common practice, no source
COMMON = 0.01  # of all rises of an option together: fan curves, losses to the room; common practice, no source
Answers = dict[str, dict[str, Floats]]  # by run and channel


@dataclass(frozen=True)
class Shift:
    """A shift with its standard uncertainty, K, and the answers to one standard uncertainty."""

    name: str
    standard: float
    answers: Answers


def shifts_of(trials: Trials, calibration: float) -> list[Shift]:
    """All shifts, at the case's own values: of each run its start and room, of each probe that drives runs its offset,
    and of each option all rises together.

    `calibration`: standard uncertainty of one probe, K.
    """
    found: list[Shift] = []
    offsets: dict[str, Answers] = {}
    led = {leader.name: leader for leader in trials.leaders.values()}
    moved = {name: dict(_moved(trials, leader)) for name, leader in led.items()}
    for run in trials.runs:
        for driver, answers in moved[trials.leaders[run.name].name].items():
            answer = trials.as_read(run, answers)
            if driver == "start":
                found.append(_of_run(f"start of {run.name}", START, run, answer))
                continue
            if driver == "room":
                standard = GRADIENT if "room" in run.log.readings else UNREAD
                found.append(_of_run(f"room of {run.name}", standard, run, answer))
            if driver in run.log.readings:
                offsets.setdefault(driver, {})[run.name] = answer
    for driver, answered in offsets.items():
        scaled = {run: {name: calibration * one for name, one in mine.items()} for run, mine in answered.items()}
        found.append(Shift(f"probe of {driver}", calibration, scaled))
    return found + [_whole_box(trials, option) for option in dict.fromkeys(run.option for run in trials.runs)]


def _moved(trials: Trials, run: RunData) -> Iterator[tuple[str, dict[str, Floats]]]:
    """How a run's readings answer to each of its drivers, K/K."""
    at_rest = trials.at_rest[run.name]
    for driver, case in warmer(run):
        told = trials.of_run(run, trials.own, case)
        yield driver, {name: (told[name] - at_rest[name]) / ASIDE for name in at_rest}


def _whole_box(trials: Trials, option: str | None) -> Shift:
    """Every rise of an option more or less by the same share, for what is known of the box as a whole."""
    answers = {
        run.name: {
            name: COMMON * change(told, name) if is_temperature(name) else np.zeros_like(told)
            for name, told in trials.at_rest[run.name].items()
        }
        for run in trials.runs
        if run.option == option
    }
    return Shift(f"rises of {option or 'base'}", COMMON, answers)


def _of_run(name: str, standard: float, run: RunData, answer: Mapping[str, Floats]) -> Shift:
    return Shift(name, standard, {run.name: {channel: standard * one for channel, one in answer.items()}})


def warmer(run: RunData) -> Iterator[tuple[str, Case]]:
    """The run with its start, its room and each of its logged inlets warmer."""
    spec = run.case.spec
    start = {"run.start": f"{spec.room.temperature if spec.run.start is None else spec.run.start:.10g} degC"}
    yield "start", run.case.with_changes({"run.start": f"{float(start['run.start'].split()[0]) + ASIDE:.10g} degC"})
    driven = [name for name in inputs_of(run.case, run.log.readings) if is_temperature(name)]
    if "room" not in driven:
        warm = {"room.temperature": f"{spec.room.temperature + ASIDE:.10g} degC"}
        yield "room", run.case.with_changes(warm | start)
    for name in driven:
        readings: dict[str, Floats] = dict(run.log.readings)
        readings[name] = np.asarray(readings[name]) + ASIDE
        yield name, as_logged(run.case, replace(run.log, readings=readings)).with_changes(start)

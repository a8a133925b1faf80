"""A small box with invented logs: a chip cooled through a joint to fins, a second part, two runs an option."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from thermsim.bench.logged import as_logged
from thermsim.bench.logs.log import Log
from thermsim.bench.readings import modelled
from thermsim.case import Case

CHANNELS = ("part.chip", "part.lamp", "part.memory", "probe.corner", "airway.main.outlet")
RUNS = {"before 1": None, "before 2": None, "after 1": "finned", "after 2": "finned"}
MINUTES = 15


def fit_box(**tables: dict) -> Case:
    """The case; `tables` are added, or take the place of what is there."""
    part = {"on": "sheet.board", "heat_capacity": "8 J/K", "to_board": "3 K/W", "size": "10 x 10 mm"}
    film = {"on": "sheet.board", "to": "airway.main", "law": "fixed", "h": "15 W/m2K"}
    found = {
        "case": {"title": "fit box", "invented": True}, "room": {"temperature": "20 degC"},
        "run": {"cell": "10 mm", "duration": f"{MINUTES} min", "frames": 3},
        "sheet": {"board": {
            "corner": "0, 0 mm", "size": "100 x 60 mm", "thickness": "1.6 mm", "conductivity": "20 W/mK",
            "conductivity_through": "0.3 W/mK", "heat_density": "2e6 J/m3K",
        }},
        "part": {
            "chip": part | {"centre": "50, 30 mm", "watts": "3 W", "limit": "90 degC"},
            "lamp": part | {"centre": "20, 20 mm", "watts": "0.5 W"},
            "memory": part | {"centre": "80, 40 mm", "watts": "0.8 W"},
        },
        "probe": {"corner": {"on": "sheet.board", "at": "90, 10 mm"}},
        "film": {"top": film, "bottom": film | {"face": "bottom"}},
        "airway": {"main": {
            "corner": "0, 0 mm", "size": "100 x 60 mm", "height": "20 mm", "flow": "12 m3/h", "segments": 4,
        }},
        "uncertain": {
            "films": {"of": ["film.top.h", "film.bottom.h"], "spread": "30 %"},
            "feet": {"of": "part.*.to_board", "spread": "30 %"},
            "pad": {"of": "joint.pad.resistance", "spread": "60 %", "law": "lognormal"},
            "fins": {"of": "sink.fins.resistance", "spread": "60 %", "law": "lognormal"},
            "heat": {"of": "part.*.watts", "spread": "10 %"},
        },
        "option": {"finned": {"add": {
            "sink": {"fins": {
                "on": "part.chip", "airway": "airway.main", "resistance": "4 K/W", "at_flow": "12 m3/h",
                "exponent": 0.5, "heat_capacity": "1 J/K",
            }},
            "joint": {"pad": {"between": ["part.chip", "sink.fins"], "resistance": "1 K/W"}},
        }}},
        "bench": {"run": {
            name: {"file": f"{name}.csv", "stands": name.split()[0]} | ({"option": option} if option else {})
            for name, option in RUNS.items()
        }},
        "fit": {"unknowns": ["films", "pad"]},
    }  # fmt: skip
    return Case.from_dict(found | tables)


@dataclass(frozen=True)
class Run:
    """A run as the bench reads it."""

    name: str
    stands: str
    option: str | None
    log: Log


def clean_run(case: Case, name: str, option: str | None, channels=CHANNELS, every: float = 10.0) -> Run:
    """What the model says of a case, on a day with a slowly moving room, without noise."""
    time = np.arange(0.0, MINUTES * 60 + 1, every)
    room = 20.0 + 0.3 * np.sin(time / 700 + len(name))
    log = Log(name, Path(f"{name}.csv"), time, {"room": room}, {}, datetime(2026, 1, 1))
    driven = as_logged(case.with_option(option), log)
    return Run(name, name.split()[0], option, log_with(log, {"room": room} | modelled(driven, channels, time)))


def log_with(log: Log, readings: dict) -> Log:
    """The log with other readings."""
    return Log(log.name, log.path, log.time, readings, log.texts, log.began)


def noisy(run: Run, rng: np.random.Generator, offsets: dict, noise: float = 0.05, rho: float = 0.0) -> Run:
    """The run as probes with their own offsets and noise (of first order, `rho`) read it."""
    readings = {}
    for channel, values in run.log.readings.items():
        error = noise * rng.standard_normal(values.size)
        for k in range(1, values.size):
            error[k] = rho * error[k - 1] + np.sqrt(1 - rho**2) * error[k]
        readings[channel] = values + error + offsets.get(channel, 0.0)
    return Run(run.name, run.stands, run.option, log_with(run.log, readings))


PLANTED = {"film.top.h": "12.75 W/m2K", "film.bottom.h": "12.75 W/m2K", "joint.pad.resistance": "2.2 K/W"}
FILMS, PAD = 0.85, 2.2  # what that is of the case's films; K/W


def planted_runs(
    case: Case, runs=RUNS, seed: int = 3, noise: float = 0.05, calibration: float = 0.2, channels=CHANNELS
):
    """Runs of the case with what was planted, as probes with their own offsets read them."""
    rng = np.random.default_rng(seed)
    offsets = {channel: calibration * rng.standard_normal() for channel in channels}
    found = []
    for name, option in runs.items():
        mine = {address: value for address, value in PLANTED.items() if option or not address.startswith("joint")}
        truth = case.with_option(option).with_changes(mine)
        found.append(noisy(clean_run(truth, name, option, channels), rng, offsets, noise))
    return found

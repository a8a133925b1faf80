"""One test as it was held: absolute pressure and temperature over time, what settled first left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from thermsim.bench.leak.soak import settled_from
from thermsim.bench.logs.log import Log
from thermsim.bench.trend import FEWEST
from thermsim.case.benching import Layout
from thermsim.case.case import Case
from thermsim.case.channels import IGNORE
from thermsim.case.errors import CaseError, Problem
from thermsim.case.leaking import Leak
from thermsim.case.leaking_checks import COLUMNS
from thermsim.model.arrays import Floats
from thermsim.physics.pressure_decay import COUNTED_AT_K, Reading
from thermsim.units import ZERO_CELSIUS_K

SHORTEST = 60.0  # s
ENDS = 0.05  # of a log, over which its first and last reading are the mean


@dataclass(frozen=True)
class Held:
    """A test: times (s), absolute pressures (Pa) and temperatures (°C), shapes (n,); two readings or a log of many."""

    name: str
    time: Floats
    pressure: Floats
    degc: Floats
    soaked: float = 0.0  # s at the beginning that were left out
    settled: bool = True  # whether it fell evenly after that
    mended: tuple[str, ...] = ()
    logged_air: bool = False  # the atmosphere was logged too

    @property
    def logged(self) -> bool:
        """Whether it is a log."""
        return self.time.size > 2

    @property
    def span(self) -> float:
        """How long it was held, s."""
        return float(self.time[-1] - self.time[0])

    @property
    def counted(self) -> Floats:
        """The pressure the same gas would have at 20 °C, Pa."""
        found: Floats = self.pressure * COUNTED_AT_K / (self.degc + ZERO_CELSIUS_K)
        return found

    @property
    def ends(self) -> tuple[Reading, Reading]:
        """First and last reading; of a log the means of its first and last twentieth."""
        count = max(int(ENDS * self.time.size), 1)
        first, last = (
            Reading(float(self.pressure[cut].mean()), float(self.degc[cut].mean()))
            for cut in (slice(None, count), slice(-count, None))
        )
        return first, last


def tests_of(case: Case) -> Iterator[Held]:
    """The tests that `[leak]` tells of, in their order. Raises `CaseError` for what is missing or cannot be."""
    leak = case.spec.leak
    if leak.logs:
        for number, file in enumerate(leak.logs, start=1):
            yield _logged(case, f"test {number}", file)
    else:
        rises = air_over_gauge(leak)
        for number, (first, last, after) in enumerate(zip(leak.first, leak.last, leak.after, strict=True), start=1):
            pressures = np.array([first[0], last[0]]) + rises
            yield Held(f"test {number}", np.array([0.0, after]), pressures, np.array([first[1], last[1]]))


def air_over_gauge(leak: Leak) -> Floats:
    """What makes the readings absolute at a test's begin and end, Pa, shape (2,)."""
    if not leak.gauge or leak.atmosphere is None:
        return np.zeros(2)
    after = leak.atmosphere if leak.atmosphere_after is None else leak.atmosphere_after
    return np.array([leak.atmosphere, after])


def _logged(case: Case, name: str, file: str) -> Held:
    from thermsim.bench.logs.read import read_log

    leak = case.spec.leak
    path = file if case.path is None or Path(file).is_absolute() else _folder(case.path) / file
    log = read_log(Path(path), layout_of(case), name)
    lacking = [channel for channel in COLUMNS[:2] if channel not in log.readings]
    if lacking:
        raise CaseError(
            [Problem(str(path), None, lacking[0], f'no column for it: leak.columns = {{ HEADER = "{lacking[0]}" }}')]
        )
    there = np.isfinite(log.readings["pressure"]) & np.isfinite(log.readings["temperature"])
    time, pressure, degc = (of[there] for of in (log.time, log.readings["pressure"], log.readings["temperature"]))
    if time.size < FEWEST or time[-1] - time[0] < SHORTEST:
        span = time[-1] - time[0] if time.size else 0.0
        message = f"a leak test needs {FEWEST} readings over a minute or more; got {time.size} over {span:.0f} s"
        raise CaseError([Problem(str(path), None, "", message)])
    logged_air = "atmosphere" in log.readings
    pressure = pressure + _air(leak, log, there, time)
    if (pressure <= 0).any():
        raise CaseError(
            [Problem(str(path), None, "pressure", "below zero in absolute terms; is it a gauge's (leak.gauge)?")]
        )
    held = Held(name, time - time[0], pressure, degc, mended=log.mended, logged_air=logged_air)
    return _after_soak(case, held, str(path))


def layout_of(case: Case) -> Layout:
    """How the logs are written: as `[leak]` says, or else `[bench]`; columns of a bench run are none of a leak test."""
    layout = case.spec.bench.of(case.spec.leak)
    columns = {header: channel for header, channel in layout.columns.items() if channel in (*COLUMNS, IGNORE)}
    return layout.model_copy(update={"columns": columns or {channel: channel for channel in COLUMNS[:2]}})


def _folder(path: Path) -> Path:
    return path if path.is_dir() else path.parent


def _air(leak: Leak, log: Log, there: Floats, time: Floats) -> Floats | float:
    if not leak.gauge:
        return 0.0
    if "atmosphere" in log.readings:
        known = np.isfinite(log.readings["atmosphere"])
        return np.interp(time, log.time[known], log.readings["atmosphere"][known])
    return np.interp(time, [time[0], time[-1]], air_over_gauge(leak))


def _after_soak(case: Case, held: Held, path: str) -> Held:
    stated = case.spec.leak.soak
    start, settled = settled_from(held.time, held.counted) if stated is None else (stated, True)
    kept = held.time >= start
    if kept.sum() < FEWEST or held.time[-1] - start < SHORTEST:
        message = f"nothing is left of {path} after a soak of {start / 60:g} min; it is {held.span / 60:g} min long"
        raise CaseError([case.problem(("leak", "soak"), message)])
    return Held(
        held.name, held.time[kept], held.pressure[kept], held.degc[kept], start, settled, held.mended, held.logged_air
    )

"""A test from its log, without what settled first."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NoReturn

import numpy as np

from thermsim.bench.leak.held import Held, air_over_gauge
from thermsim.bench.leak.soak import settled_from
from thermsim.bench.logs.log import Log
from thermsim.bench.logs.read import read_log
from thermsim.bench.trend import FEWEST
from thermsim.case.benching import Layout
from thermsim.case.case import Case
from thermsim.case.channels import IGNORE
from thermsim.case.errors import CaseError, Problem
from thermsim.case.leaking_checks import COLUMNS
from thermsim.model.arrays import Floats

SHORTEST = 60.0  # s


def logged(case: Case) -> list[Held]:
    """The tests that are logs, in their order. Raises `CaseError` for what cannot be read or is no test."""
    layout, folder = layout_of(case), case.folder
    return [_test(case, f"test {k}", folder / file, layout) for k, file in enumerate(case.spec.leak.logs, start=1)]


def layout_of(case: Case) -> Layout:
    """How the logs are written: as `[leak]` says, or else `[bench]`; columns of a bench run are none of a leak test."""
    layout = case.spec.bench.of(case.spec.leak)
    columns = {header: channel for header, channel in layout.columns.items() if channel in (*COLUMNS, IGNORE)}
    return layout.model_copy(update={"columns": columns or {channel: channel for channel in COLUMNS}})


def _test(case: Case, name: str, path: Path, layout: Layout) -> Held:
    log = read_log(path, layout, name)
    for channel in COLUMNS[:2]:
        if channel not in log.readings:
            _refuse(path, channel, f'no column of it; say which in leak.columns = {{ HEADER = "{channel}" }}')
    read, degc = log.readings["pressure"], log.readings["temperature"]
    air = _air(case, log, path)
    there = np.isfinite(read) & np.isfinite(degc) & np.isfinite(air)
    time, pressure = log.time[there], (read + air)[there]
    span = float(time[-1] - time[0]) if time.size else 0.0
    if time.size < FEWEST or span < SHORTEST:
        message = f"a leak test needs {FEWEST} readings over a minute or more; got {time.size} over {span:.0f} s"
        _refuse(path, "", message)
    if (pressure <= 0).any():
        _refuse(path, "pressure", "not above zero, so no absolute pressure; over the atmosphere: gauge = true")
    held = Held(
        name, time - time[0], pressure, degc[there], mended=log.mended, doubts=log.doubts,
        logged_air="atmosphere" in log.readings,
    )  # fmt: skip
    return _after_soak(case, held, path)


def _air(case: Case, log: Log, path: Path) -> Floats:
    """What makes the readings absolute, Pa, shape (n,)."""
    leak = case.spec.leak
    if leak.gauge and "atmosphere" in log.readings:
        known = np.isfinite(log.readings["atmosphere"])
        if known.any():
            return np.interp(log.time, log.time[known], log.readings["atmosphere"][known])
    if leak.gauge and leak.atmosphere is None:
        _refuse(path, "atmosphere", "no reading of it; a gauge's readings need it, measured")
    return np.interp(log.time, [log.time[0], log.time[-1]], air_over_gauge(leak))


def _after_soak(case: Case, held: Held, path: Path) -> Held:
    stated = case.spec.leak.soak
    start, settled = settled_from(held.time, held.counted) if stated is None else (stated, True)
    kept = held.time >= start
    if kept.sum() < FEWEST or held.time[-1] - start < SHORTEST:
        message = f"nothing is left of {path.name} after {start / 60:g} min; it is {held.span / 60:g} min long"
        raise CaseError([case.problem(("leak", "soak"), message)])
    time, pressure, degc = held.time[kept], held.pressure[kept], held.degc[kept]
    return replace(held, time=time, pressure=pressure, degc=degc, soaked=start, settled=settled)


def _refuse(path: Path, key: str, message: str) -> NoReturn:
    raise CaseError([Problem(str(path), None, key, message)])

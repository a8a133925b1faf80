"""A pressure-decay test of a loop: what it loses, how sure that is, and what the accepted limit makes of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from thermsim.bench.leak.answer import answer, plan
from thermsim.bench.leak.decay import Decay, decay, fitted
from thermsim.bench.leak.held import Held, read_off
from thermsim.bench.leak.logged import logged
from thermsim.bench.leak.reminders import CEILING_PA, cautions_of, warnings_of
from thermsim.bench.leak.repeats import Together, together
from thermsim.bench.leak.verdict import GUARD, Verdict, hold_for, judge
from thermsim.bench.trend import averaged
from thermsim.bench.uncertainty import coverage_factor
from thermsim.case.case import Case
from thermsim.case.errors import CaseError, Problem
from thermsim.case.leaking import Leak
from thermsim.model.fill import coolant_volume
from thermsim.model.hydraulics import elements, read_path
from thermsim.physics.pressure_decay import moles_per_second, pascals_per_kelvin, stored_energy
from thermsim.studies.stored import store
from thermsim.units import SCCM, format_quantity

Facts = dict[str, Any]
SHOWN = 200  # points of a log's curve


def leak(case: Case, folder: str | Path | None = None) -> Facts:
    """What the tests of `[leak]` say; facts, also stored as `leak.json` in `folder`.

    Raises `CaseError` for what is missing: nothing of it is guessed, least of all the volume.
    """
    asked = case.spec.leak
    _complete(case)
    outside = atmosphere_of(case)
    held = logged(case) if asked.logs else read_off(asked)
    facts: Facts = {
        "study": "leak",
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": case.option,
        "volume_m3": asked.volume,
        "u_volume_m3": asked.volume_uncertainty,
        "atmosphere_pa": outside,
        "limit": None if asked.limit is None else _rate(asked.limit),
        **(_judged(held, asked, outside) if held else _planned(asked, outside)),
    }
    facts["answer"] = answer(facts) if held else plan(facts)
    facts["warnings"] = warnings_of(facts)
    facts["cautions"] = cautions_of(facts)
    if folder is not None:
        store(folder, case, facts)
    return facts


def _judged(tests: list[Held], asked: Leak, outside: float) -> Facts:
    """What the tests say."""
    inwards = tests[0].ends[0].pressure < outside
    decays = [decay(held, asked, -1.0 if inwards else 1.0) for held in tests]
    told = together(decays)
    verdict = judge(decays[-1], told, asked.limit)
    return {
        "inwards": inwards,
        "verdict": verdict.word,
        "reason": verdict.reason,
        "together": _together(told, verdict),
        "hold_s": verdict.hold,
        **_of_the_loop(decays[-1], asked, max(float(held.pressure.max()) for held in tests), outside),
        "tests": [_test(one) for one in decays],
    }


def _planned(asked: Leak, outside: float) -> Facts:
    """What a test at the customary ceiling could tell."""
    pressure = np.full(2, outside + CEILING_PA)
    test = decay(Held("planned", np.array([0.0, 1800.0]), pressure, np.full(2, 20.0)), asked)
    nothing: Facts = {"inwards": False, "verdict": None, "reason": "", "together": None, "hold_s": None, "tests": []}
    return nothing | _of_the_loop(test, asked, pressure[0], outside)


def _of_the_loop(test: Decay, asked: Leak, pressure: float, outside: float) -> Facts:
    return {
        "hold_for_limit_s": None if asked.limit is None else hold_for(test, asked.limit),
        "tenth_of_kelvin_pa": 0.1 * pascals_per_kelvin(test.held.ends[0]),
        "over_atmosphere_pa": pressure - outside,
        "stored_energy_j": stored_energy(asked.volume or 0.0, pressure, outside),
    }


def atmosphere_of(case: Case) -> float:
    """Pressure outside the loop, Pa: as measured, or by what the case says of its room."""
    return case.spec.leak.atmosphere or case.spec.room.air_pressure()


def _complete(case: Case) -> None:
    """Everything that a result needs and the case does not have."""
    asked = case.spec.leak
    missing: list[Problem] = []
    if asked.volume is None:
        missing.append(
            case.problem(("leak", "volume"), f"missing; measure it, by filling with water and weighing{_drawn(case)}")
        )
    if asked.volume_uncertainty is None:
        message = 'missing; without it no leak rate is worth printing; for example volume_uncertainty = "5 mL"'
        missing.append(case.problem(("leak", "volume_uncertainty"), message))
    if asked.resolution is None and asked.gauge_uncertainty is None:
        message = 'missing; the gauge\'s last digit, as in resolution = "10 Pa", or gauge_uncertainty, or both'
        missing.append(case.problem(("leak", "resolution"), message))
    if asked.gauge and asked.atmosphere is None and "atmosphere" not in asked.columns.values():
        message = 'missing; readings over the atmosphere need it, measured: atmosphere = "101.3 kPa", or a column of it'
        missing.append(case.problem(("leak", "atmosphere"), message))
    if missing:
        raise CaseError(dict.fromkeys(missing))


def _drawn(case: Case) -> str:
    """What loops hold by the case's own drawing: offered, never taken."""
    held = {
        name: sum(coolant_volume(case.spec, address) for address in elements(read_path(loop.path)))
        for name, loop in case.spec.loop.items()
    }
    told = [f"loop.{name} holds {format_quantity(volume, 'volume')}" for name, volume in held.items()]
    return f" (by this case {' and '.join(told)}; gauge, valve and test hose come on top)" if told else ""


def _rate(value: float) -> Facts:
    """A rate in the units it is read in."""
    return {
        "pa_m3_per_s": value, "mbar_l_per_s": 10 * value, "sccm": value / SCCM, "mol_per_s": moles_per_second(value),
    }  # fmt: skip


def _together(told: Together, verdict: Verdict) -> Facts:
    measured = told.rate
    return {
        "course": told.course,
        "change_sccm": told.change / SCCM,
        "u_change_sccm": told.u_change / SCCM,
        **_rate(measured.value),
        "u_sccm": measured.u / SCCM,
        "freedom": None if measured.freedom > 1e6 else measured.freedom,
        "coverage_factor": coverage_factor(measured.freedom, GUARD),
        "low_sccm": verdict.low / SCCM,
        "high_sccm": verdict.high / SCCM,
    }


def _test(one: Decay) -> Facts:
    held, measured = one.held, one.measured
    first, last = held.ends
    return {
        "name": held.name,
        "logged": held.logged,
        "readings": int(held.time.size),
        "span_s": held.span,
        "soaked_s": held.soaked,
        "settled": held.settled,
        "mended": list(held.mended),
        "doubts": list(held.doubts),
        "first": {"pressure_pa": first.pressure, "degc": first.degc},
        "last": {"pressure_pa": last.pressure, "degc": last.degc},
        "drop_pa": one.drop,
        "corrected_pa": one.corrected,
        "u_corrected_pa": measured.u / one.per_pascal,
        **_rate(one.rate),
        "u_sccm": measured.u / SCCM,
        "budget": one.budget(),
        "curve": _curve(one),
    }


def _curve(one: Decay) -> Facts:
    """Pressure at 20 °C over time, thinned, with the line through it, its band of two u, and the reading itself."""
    held = one.held
    time, counted = averaged(held.time, held.counted, SHOWN)
    read = averaged(held.time, held.pressure, SHOWN)[1]
    line = fitted(one, time)
    if line is None or one.line is None:
        return {
            "time_s": time.tolist(),
            "counted_pa": counted.tolist(),
            "read_pa": read.tolist(),
            "line_pa": None,
            "band_pa": None,
        }
    band = 2 * one.line.u_slope * np.abs(time - one.line.middle)
    return {
        "time_s": time.tolist(), "counted_pa": counted.tolist(), "read_pa": read.tolist(),
        "line_pa": line.tolist(), "band_pa": band.tolist(),
    }  # fmt: skip

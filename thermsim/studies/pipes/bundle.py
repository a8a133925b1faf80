"""One table of heat pipes: what its capacity rests on, its load in every state, tilted, and with one pipe lost."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, degrees, log, pi, radians
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.case.materials import material
from thermsim.case.solid import HeatPipe
from thermsim.physics.coolants import coolant
from thermsim.physics.heat_pipes import (
    effective_conductivity,
    effective_length,
    wick_conductivity_packed,
    wick_conductivity_screen,
    wick_conductivity_sintered,
)
from thermsim.solve.factor import SolveFailed
from thermsim.studies.pipe_capacity import Bundle, lengths, one_pipe, pores, wick_limit
from thermsim.studies.pipes.told import Told, states_asked, with_one_lost

Facts = dict[str, Any]
ANGLES_DEG = np.linspace(-90, 90, 73)


def book(case: Case, told: Told) -> Facts:
    """Every table of heat pipes of a case, and every part's temperature by state, as it is and with a pipe lost."""
    asked = states_asked(case)
    whole = {state: told.of(case, state, course) for state, course in asked.items()}
    pipes = []
    for name in case.spec.heat_pipe:
        lost = {state: lost_facts(case, name, state, course, told) for state, course in asked.items()}
        pipes.append(bundle_facts(case, name, {state: Bundle(**whole[state]["pipes"][name]) for state in asked}, lost))
    return {
        "states": {
            state: {"lasts_s": course if isinstance(course, float) else None, "parts_degc": whole[state]["parts_degc"]}
            for state, course in asked.items()
        },
        "limits_degc": {name: part.limit for name, part in case.spec.part.items() if part.limit is not None},
        "pipes": pipes,
    }


def bundle_facts(case: Case, name: str, told: Mapping[str, Bundle], lost: Facts) -> Facts:
    """All about one table: `told` and `lost`, as it is and with a pipe lost, by state."""
    pipe = case.spec.heat_pipe[name]
    worst = max(told, key=lambda state: told[state].used)
    bundle = told[worst]
    each = bundle.capacity / pipe.count
    level_wick = wick_limit(pipe, bundle.vapour_degc, 0.0)
    return {
        "name": name,
        "between": list(pipe.between),
        "count": pipe.count,
        "capacity_from": "maker" if pipe.capacity is not None else "wick",
        "straight_w": pipe.capacity if pipe.capacity is not None else level_wick,
        "wick_w": level_wick,
        "bends": pipe.bends,
        "bend_factor": pipe.bend_factor,
        "flattening_factor": pipe.flattening_factor,
        "one_w": each,
        "wanted_margin": pipe.margin,
        "states": {state: load_facts(one) | {"vapour_degc": one.vapour_degc} for state, one in told.items()},
        "worst_state": worst,
        "needed": ceil(pipe.margin * bundle.load / each - 1e-9) if each > 0 else None,
        "tilt": tilt_facts(pipe, bundle),
        "conduction": conduction_facts(pipe, bundle.load / pipe.count, bundle.vapour_degc),
        "lost": lost,
    }


def load_facts(bundle: Bundle) -> Facts:
    """Load, capacity and margin."""
    return {"load_w": bundle.load, "capacity_w": bundle.capacity, "margin": bundle.margin}


def lost_facts(case: Case, name: str, state: str, course: float | str, told: Told) -> Facts:
    """The state with one pipe of a table gone: what the others carry, and which parts go over their limit."""
    pipe = case.spec.heat_pipe[name]
    alone = pipe.count == 1
    nothing: Facts = {"load_w": 0.0, "capacity_w": 0.0, "margin": None}
    try:
        facts = told.of(with_one_lost(case, name), state, course)
    except SolveFailed:
        return nothing | {"load_w": None, "parts_degc": None, "over": None}
    return (nothing if alone else load_facts(Bundle(**facts["pipes"][name]))) | {
        "parts_degc": facts["parts_degc"],
        "over": [verdict["part"] for verdict in facts["verdicts"] if verdict["of"] == "limit" and not verdict["met"]],
    }


def tilt_facts(pipe: HeatPipe, bundle: Bundle) -> Facts:
    """Capacity of all pipes of a table against the angle; the steepest angle that still keeps the wanted margin.

    Angles in degrees, positive with the hot end up; without a wick nothing is known of them.
    """
    stated, load = degrees(bundle.tilt), bundle.load
    if pipe.wick is None:
        return {"stated_deg": stated, "deg": None, "capacity_w": None, "carries_to_deg": None, "margin_to_deg": None}
    capacity = np.array([pipe.count * one_pipe(pipe, bundle.vapour_degc, radians(angle)) for angle in ANGLES_DEG])
    return {
        "stated_deg": stated,
        "deg": ANGLES_DEG.tolist(),
        "capacity_w": capacity.tolist(),
        "carries_to_deg": _steepest(capacity, load),
        "margin_to_deg": _steepest(capacity, pipe.margin * load),
    }


def _steepest(capacity: np.ndarray[Any, np.dtype[np.float64]], watts: float) -> float | None:
    """The largest angle at which the capacity, which falls with it, still is this; None where none is."""
    if capacity[0] < watts:
        return None
    if capacity[-1] >= watts:
        return float(ANGLES_DEG[-1])
    return float(np.interp(-watts, -capacity, ANGLES_DEG))


def conduction_facts(pipe: HeatPipe, watts: float, vapour_degc: float) -> Facts | None:
    """What a rod would need to conduct to do the same, and what the wick alone costs; None without a diameter."""
    if pipe.diameter is None or pipe.wick is None or watts <= 0:
        return None
    assert pipe.wall is not None
    evaporator, _, condenser = lengths(pipe)
    outer = pipe.diameter / 2 - pipe.wall
    copper, water = material("copper", {}).conductivity, coolant("water").at(min(vapour_degc, 99.0)).conductivity
    porosity = pores(pipe.wick)[2]
    if pipe.wick.kind == "sinter":
        bounds = wick_conductivity_packed(copper, water, porosity), wick_conductivity_sintered(copper, water, porosity)
    else:
        bounds = (wick_conductivity_screen(copper, water, porosity),) * 2
    around = log(outer / (outer - pipe.wick.thickness)) / (2 * pi) * (1 / evaporator + 1 / condenser)
    return {
        "equivalent_w_per_mk": effective_conductivity(
            watts, effective_length(*lengths(pipe)), pi * pipe.diameter**2 / 4, watts * pipe.resistance
        ),
        "wick_w_per_mk": list(bounds),
        "wick_k_per_w": [around / bounds[1], around / bounds[0]],
        "stated_k_per_w": pipe.resistance,
    }

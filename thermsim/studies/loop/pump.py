"""The pump against the loop: where they meet, how near that is to the pump's ends, what more resistance does."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermsim.model.hydraulics import LoopHydraulics
from thermsim.physics.coolants import LiquidState
from thermsim.physics.curves import meeting_flow
from thermsim.studies.loop.elements import head
from thermsim.studies.settled import Settled

Facts = dict[str, Any]
TABULATED_WITH = 998.2  # kg/m³, water at 20 °C, with which pump curves are measured
MORE_AND_LESS = (0.9, 1.1)
POINTS = 41  # of the curves for the figure


def pump_facts(settled: Settled, loop: str) -> Facts:
    """The operating point, power, margins, and both curves."""
    table = settled.case.spec.loop[loop]
    hydraulics, point = settled.model.operating.loops[loop], settled.steady.conditions.loops[loop]
    closed = settled.steady.inputs.controls.closed
    speed = float(settled.steady.inputs.controls.speeds.get(table.pump, 1.0))
    pump = settled.case.spec.pump[table.pump.removeprefix("pump.")]
    available = hydraulics.curve.scaled(speed, density_ratio=point.liquid.density / TABULATED_WITH)
    flow, pressure, dead = point.flows["pump"], head(settled, loop), available(0.0)
    free = hydraulics.curve.flow[-1] * speed
    hydraulic, heat = pressure * flow, pump.heat * speed**3
    return {
        "pump": table.pump,
        "speed": speed,
        "stated_flow": table.flow is not None,
        "flow_l_per_min": 6e4 * flow,
        "pressure_pa": pressure,
        "dead_head_pa": dead,
        "free_flow_l_per_min": 6e4 * free,
        "share_of_dead_head": pressure / dead if dead > 0 else None,
        "share_of_free_flow": flow / free if free > 0 else None,
        "could_give_pa": available(flow),
        "hydraulic_w": hydraulic,
        "heat_w": heat,
        "efficiency": hydraulic / heat if heat > 0 else None,
        "at_resistance": [
            {"factor": factor, "flow_l_per_min": 6e4 * flow_at(hydraulics, factor, speed, point.liquid, closed)}
            for factor in MORE_AND_LESS
        ],
        "curves": _curves(hydraulics, speed, point.liquid, closed, max(free, flow)),
    }


def flow_at(
    hydraulics: LoopHydraulics, factor: float, speed: float, liquid: LiquidState, closed: frozenset[str]
) -> float:
    """Flow (m³/s) with the loop's resistance times a factor; a stated flow stays."""
    if speed <= 0 or hydraulics.loop.flow is not None:
        return (hydraulics.loop.flow or 0.0) * speed
    return meeting_flow(
        hydraulics.curve.scaled(speed, density_ratio=liquid.density / TABULATED_WITH),
        lambda flow: factor * hydraulics.drop(hydraulics.series, flow, liquid, closed),
        hydraulics.curve.flow[-1] * speed,
    )


def _curves(
    hydraulics: LoopHydraulics, speed: float, liquid: LiquidState, closed: frozenset[str], widest: float
) -> Facts:
    flows = np.linspace(0.0, widest, POINTS)
    available = hydraulics.curve.scaled(speed, density_ratio=liquid.density / TABULATED_WITH)
    return {
        "flow_l_per_min": (6e4 * flows).tolist(),
        "pump_pa": [available(float(flow)) for flow in flows],
        "loop_pa": [hydraulics.drop(hydraulics.series, float(flow), liquid, closed) for flow in flows],
    }

"""One row an element of the loop: what it costs in pressure, what it takes up, holds and delays."""

from __future__ import annotations

from typing import Any

from thermsim.model.fill import coolant_volume
from thermsim.model.hydraulics import Passage, path_length
from thermsim.physics.coolants import LiquidState, coolant
from thermsim.physics.ducts import entry_lengths, nu_h1_rectangular_shah_london, nusselt, rectangular_duct, regime
from thermsim.studies.byhand import FLAG, joined_parts
from thermsim.studies.loop.walk import Leg
from thermsim.studies.settled import Settled

Facts = dict[str, Any]


def element_rows(settled: Settled, loop: str, walked: dict[str, Leg]) -> list[Facts]:
    """Rows in the order of the path, without the pump's."""
    total = head(settled, loop)
    passages = settled.model.operating.loops[loop].passages
    rows = [_row(settled, loop, address, passage, walked[address]) for address, passage in passages.items()]
    return [row | {"share_of_head": row["drop_pa"] / total if total > 0 else None} for row in rows]


def head(settled: Settled, loop: str) -> float:
    """Pressure the loop takes at its flow, Pa."""
    hydraulics, point = settled.model.operating.loops[loop], settled.steady.conditions.loops[loop]
    closed = settled.steady.inputs.controls.closed
    return hydraulics.drop(hydraulics.series, point.flows["pump"], point.liquid, closed)


def liquid_facts(liquid: LiquidState) -> Facts:
    """What the coolant is like at its mean temperature, SI."""
    return {
        "density_kg_per_m3": liquid.density,
        "cp_j_per_kgk": liquid.cp,
        "conductivity_w_per_mk": liquid.conductivity,
        "viscosity_pa_s": liquid.viscosity,
        "prandtl": liquid.prandtl,
    }


def _row(settled: Settled, loop: str, address: str, passage: Passage, leg: Leg) -> Facts:
    liquid = settled.steady.conditions.loops[loop].liquid
    drops = passage.drops(leg.flow, liquid)
    re = passage.reynolds(leg.flow, liquid)
    volume = coolant_volume(settled.case.spec, address)
    velocity = None if passage.duct is None else leg.flow / passage.count / passage.duct.area
    return {
        "element": address,
        "flow_l_per_min": 6e4 * leg.flow,
        "drop_pa": sum(drops),
        "friction_pa": drops.friction,
        "fittings_pa": drops.fittings,
        "bore_steps_pa": drops.steps,
        "measured_pa": drops.measured,
        "velocity_m_per_s": velocity,
        "reynolds": re,
        "regime": None if re is None else regime(re),
        "laminar_f_re": None if passage.duct is None else passage.duct.laminar_f_re,
        "inlet_degc": leg.inlet_degc,
        "outlet_degc": leg.outlet_degc,
        "watts": leg.watts,
        "volume_ml": 1e6 * volume,
        "delay_s": volume / leg.flow if leg.flow > 0 else None,
        "film": film(settled, loop, address, leg) if address.startswith("plate.") else None,
        "by_hand": rise_by_hand(settled, loop, address, leg),
    }


def film(settled: Settled, loop: str, address: str, leg: Leg) -> Facts | None:
    """A plate's film, and whether its groove is long enough for developed flow; None at rest."""
    channel = settled.case.spec.plate[address.removeprefix("plate.")].channel
    liquid = settled.steady.conditions.loops[loop].liquid
    duct = rectangular_duct(channel.width, channel.depth, channel.heated_walls)
    length, across = path_length(channel.path), duct.hydraulic_diameter
    re = settled.model.operating.loops[loop].passages[address].reynolds(leg.flow, liquid) or 0.0
    if re <= 0:
        return None
    entry = across / length if channel.entry == "developing" else 0.0
    found = nusselt(re, liquid.prandtl, duct.laminar_nu, entry)
    velocity_entry, thermal_entry = entry_lengths(re, liquid.prandtl, across)
    film_w = found.value * liquid.conductivity / across
    h1 = nu_h1_rectangular_shah_london(min(channel.width, channel.depth) / max(channel.width, channel.depth))
    return {
        "h_w_per_m2k": film_w,
        "correlation": found.name,
        "h_uniform_flux_w_per_m2k": h1 * liquid.conductivity / across if channel.heated_walls == 4 else None,
        "channel_m": length,
        "velocity_entry_m": velocity_entry,
        "thermal_entry_m": thermal_entry,
        "wall_over_coolant_k": leg.watts / (film_w * duct.heated_perimeter * length * len(channel.grooves)),
    }


def rise_by_hand(settled: Settled, loop: str, address: str, leg: Leg) -> Facts | None:
    """W/(ρ c Q) of the parts joined to an element beside the model's rise; None where nothing is joined, or at rest."""
    table = settled.case.spec.loop[loop]
    parts = sorted(joined_parts(settled.case.spec, [address]))
    if not parts or leg.flow <= 0:
        return None
    program, time = settled.model.program, settled.steady.time
    watts = sum(program.part_watts(part.removeprefix("part."), time) for part in parts)
    liquid = coolant(table.coolant, table.fraction, table.fraction_by).at(settled.case.spec.room.temperature)
    rise, model = watts / (liquid.density * liquid.cp * leg.flow), leg.outlet_degc - leg.inlet_degc
    return {
        "watts": watts,
        "rise_k": rise,
        "model_k": model,
        "flagged": abs(rise - model) > FLAG * abs(model),
        "sum": f"{watts:.1f} W / ({liquid.density:.0f} kg/m³ · {liquid.cp:.0f} J/kgK · {6e4 * leg.flow:.2f} L/min)",
    }

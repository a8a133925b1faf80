"""What to pour in, what it grows to when it warms, what a gas cushion makes of that, and how long the level lasts."""

from __future__ import annotations

from typing import Any

from thermsim.case.flow import Loop
from thermsim.model.fill import coolant_volume
from thermsim.physics.coolants import HIGHEST_DEGC, Coolant, CoolantRange, coolant
from thermsim.physics.cushion import cushion_needed, cushion_pressure, liquid_full_rise
from thermsim.studies.settled import Settled

Facts = dict[str, Any]
USUAL_RISE = 50e3  # Pa, where no rating is stated: the customary ceiling of small loops; common practice, no source
DAY, YEAR = 86400.0, 365.25


def fill_facts(settled: Settled, loop: str) -> Facts:
    """Volumes, masses, and the temperatures between which the coolant lives."""
    spec = settled.case.spec
    table, hydraulics = spec.loop[loop], settled.model.operating.loops[loop]
    liquid, nodes = hydraulics.coolant, settled.model.coolant_nodes[loop]
    flow = settled.steady.conditions.loops[loop].flows["pump"]
    volumes = {address: coolant_volume(spec, address) for address in hydraulics.passages}
    volume = sum(volumes.values())
    filled = spec.room.temperature if table.fill_temperature is None else table.fill_temperature
    running = settled.steady.temperature[nodes]
    hot = max(float(running.max()), filled, table.hottest if table.hottest is not None else filled)
    cold = min(float(running.min()), filled, spec.room.temperature, filled if table.coldest is None else table.coldest)
    mass = volume * liquid.at(min(max(filled, liquid.freezing_degc), HIGHEST_DEGC)).density
    hoses = sum(volume for address, volume in volumes.items() if address.startswith("hose."))
    return {
        "coolant": str(liquid),
        "glycol": table.coolant != "water",
        "volume_ml": 1e6 * volume,
        "by_element_ml": {address: 1e6 * volume for address, volume in volumes.items()},
        "mass_kg": mass,
        "glycol_kg": liquid.mass_fraction * mass,
        "water_kg": (1 - liquid.mass_fraction) * mass,
        "fill_degc": filled,
        "hottest_degc": hot,
        "coldest_degc": cold,
        "freezing_degc": liquid.freezing_degc,
        "turn_over_s": volume / flow if flow > 0 else None,
        "hoses_delay_s": hoses / flow if flow > 0 else None,
        "cushion": cushion_facts(settled, loop, liquid, volume, filled, hot),
        "level": level_facts(settled, loop, volume),
    }


def cushion_facts(settled: Settled, loop: str, liquid: Coolant, volume: float, filled: float, hot: float) -> Facts:
    """Growth of the coolant, the gas there is and the gas there must be, and the pressures over the air's."""
    spec = settled.case.spec
    table, passages = spec.loop[loop], settled.model.operating.loops[loop].passages
    tanks = [spec.reservoir[a.removeprefix("reservoir.")] for a in passages if a.startswith("reservoir.")]
    stated = [tank.gas for tank in tanks if tank.gas is not None]
    air = spec.room.air_pressure()
    dead = settled.model.operating.loops[loop].curve.at(0.0)
    share = _growth(liquid, filled, hot)
    told: Facts = {
        "vented": table.vented,
        "tanks": [a for a in passages if a.startswith("reservoir.")],
        "growth_share": share,
        "gas_ml": 1e6 * sum(stated) if stated else None,
        "rating_pa": table.rating,
        "hottest_stated": table.hottest is not None,
        "dead_head_pa": dead,
        "allowed_pa": _allowed(table, dead),
    }
    if share is None:
        return told | {"growth_ml": None}
    growth = share * volume
    needed = cushion_needed(air + table.fill_pressure, air + told["allowed_pa"], growth, filled, hot)
    hot_pa = None
    if stated:
        hot_pa = cushion_pressure(air + table.fill_pressure, sum(stated), growth, filled, hot)
    return told | {
        "growth_ml": 1e6 * growth,
        "needed_ml": None if needed is None else 1e6 * needed,
        "hot_pa": None if hot_pa is None else hot_pa - air,
        "with_pump_pa": None if hot_pa is None else hot_pa - air + dead,
        "liquid_full_rise_pa": liquid_full_rise(share),
    }


def _growth(liquid: Coolant, filled: float, hot: float) -> float | None:
    try:
        return liquid.expansion(filled, hot)
    except CoolantRange:
        return None


def _allowed(table: Loop, dead: float) -> float:
    """Pressure over the air's that the cushion may come to: the pump adds its dead head where a loop is blocked."""
    if table.rating is None:
        return table.fill_pressure + USUAL_RISE
    return max(table.rating - dead, 0.0)


def level_facts(settled: Settled, loop: str, volume: float) -> Facts | None:
    """How long the reserve lasts against what goes through the hoses; None where no hose's permeation is stated.

    Water goes and glycol stays, at the rate stated, which falls as the coolant grows richer: the safe side.
    """
    spec = settled.case.spec
    passages, liquid = settled.model.operating.loops[loop].passages, settled.model.operating.loops[loop].coolant
    hoses = [spec.hose[a.removeprefix("hose.")] for a in passages if a.startswith("hose.")]
    if not any(hose.permeation for hose in hoses):
        return None
    tanks = [spec.reservoir[a.removeprefix("reservoir.")] for a in passages if a.startswith("reservoir.")]
    reserve = sum(tank.volume if tank.reserve is None else tank.reserve for tank in tanks)
    rate = sum((hose.permeation or 0.0) * hose.length for hose in hoses)
    room = spec.room.temperature
    density, water = liquid.at(room).density, coolant("water").at(room).density
    days = reserve * water / rate / DAY
    mass, lost = volume * density, reserve * water
    return {
        "g_per_day": 1e3 * rate * DAY,
        "ml_per_month": 1e6 * rate / water * DAY * YEAR / 12,
        "reserve_ml": 1e6 * reserve,
        "days": days,
        "years": days / YEAR,
        "fraction_then": liquid.mass_fraction * mass / (mass - lost),
        "without": [a for a in passages if a.startswith("hose.") and spec.hose[a[5:]].permeation is None],
    }

"""What a summary tells of air, coolant, moisture and heat pipes, at the steady state before any jump.

A heat pipe is judged by its larger load, there or at the end.
"""

from __future__ import annotations

from operator import attrgetter
from typing import Any

from thermsim.case.solid import HeatPipe
from thermsim.model.system import Model
from thermsim.physics.acoustics import blade_tone
from thermsim.physics.ducts import regime
from thermsim.physics.moist_air import dew_point
from thermsim.solve.steady import Steady
from thermsim.studies.finished import Finished
from thermsim.studies.pipe_capacity import Bundle, bundles

Table = dict[str, Any]


def air_told(done: Finished) -> Table:
    """Each airway's operating point and temperatures."""
    told = {}
    for name, air in done.calm.conditions.air.items():
        chain = done.model.site.chains[name]
        full = done.calm.conditions.temperature
        told[name] = {
            "flow_m3_per_s": air.flow,
            "flow_m3_per_h": 3600 * air.flow,
            "pressure_pa": air.pressure,
            "inlet_degc": float(full[chain[0]]),
            "outlet_degc": float(full[chain[-1]]),
            "density_kg_per_m3": air.state.density,
        }
    return told


def loop_told(done: Finished, name: str) -> Table:
    """A loop's operating point, the drop and regime of each element, its radiators."""
    point = done.calm.conditions.loops[name]
    hydraulics = done.model.operating.loops[name]
    full = done.calm.conditions.temperature
    elements: Table = {}
    for address, passage in hydraulics.passages.items():
        flow = point.flows[address]
        re = passage.reynolds(flow, point.liquid)
        elements[address] = {
            "flow_l_per_min": 6e4 * flow,
            "drop_pa": passage.drop(flow, point.liquid),
            "reynolds": re,
            "regime": regime(re) if re is not None else None,
        }
    nodes = done.model.coolant_nodes[name]
    closed = done.calm.inputs.controls.closed
    told: Table = {
        "coolant": str(hydraulics.coolant),
        "flow_l_per_min": 6e4 * point.flows["pump"],
        "pressure_pa": hydraulics.drop(hydraulics.series, point.flows["pump"], point.liquid, closed),
        "mean_degc": point.temperature_degc,
        "coldest_degc": float(full[nodes].min()),
        "hottest_degc": float(full[nodes].max()),
        "hottest_at_end_degc": None if done.end is None else float(done.end.temperature[nodes].max()),
        "elements": elements,
        "radiators": {},
    }
    for address in hydraulics.passages:
        if address.startswith("radiator."):
            told["radiators"][address] = exchange_told(done.model, done.calm, address)
    return told


def exchange_told(model: Model, steady: Steady, address: str) -> Table:
    """A radiator's conductance from entering coolant to entering air, and the heat that passes."""
    for k, group in enumerate(model.groups):
        if group.name == address and group.kind == "exchanger":
            strength = float(steady.strengths[k])
            air_in, coolant_in = group.sender[0], group.sender[1]
            full = steady.conditions.temperature
            return {
                "conductance_w_per_k": strength,
                "watts": strength * float(full[coolant_in] - full[air_in]),
                "coolant_in_degc": float(full[coolant_in]),
                "air_in_degc": float(full[air_in]),
            }
    raise KeyError(address)


def fans_told(done: Finished) -> Table:
    """Speed of each fan relative to rated, in revolutions a minute, and its blade tone, where they can be known."""
    speeds = done.calm.inputs.controls.speeds
    told: Table = {}
    for name, fan in done.model.case.spec.fan.items():
        speed = float(speeds[f"fan.{name}"])
        turns = 60 * fan.rated_speed * speed if fan.rated_speed is not None else None
        told[f"fan.{name}"] = {
            "speed": speed,
            "rev_per_min": turns,
            "blade_tone_hz": blade_tone(fan.blades, turns) if fan.blades is not None and turns else None,
        }
    return told


def dew_told(done: Finished) -> Table | None:
    """Dew point of the room's air and the coldest place; None without a humidity."""
    room = done.model.case.spec.room
    if room.humidity is None:
        return None
    dew = dew_point(room.temperature, room.humidity)
    states = [done.model.start(), *(steady.conditions.temperature for steady in done.steadies)]
    coldest = min(states, key=lambda state: state.min())
    node = int(coldest.argmin())
    degc = float(coldest[node])
    told = {"dew_point_degc": dew, "coldest_degc": degc, "margin_k": degc - dew}
    return told | {"coldest_at": done.model.name_of(node)}


def heat_pipes_told(done: Finished) -> Table:
    """Each table's load against its capacity, and the capacity with one pipe lost."""
    states = [bundles(done.model, steady.conditions) for steady in done.steadies]
    return {
        name: _bundle_told(pipe, max((state[name] for state in states), key=attrgetter("used")))
        for name, pipe in done.model.case.spec.heat_pipe.items()
    }


def _bundle_told(pipe: HeatPipe, worst: Bundle) -> Table:
    return {
        "load_w": worst.load,
        "capacity_w": worst.capacity,
        "margin": worst.margin,
        "wanted_margin": pipe.margin,
        "carries": worst.capacity >= pipe.margin * worst.load,
        "capacity_one_lost_w": worst.capacity * (pipe.count - 1) / pipe.count,
    }

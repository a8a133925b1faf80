"""Heat that air and coolant carry, supply power against the case, noise, dew and touch: what the readings add up to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from thermsim.bench.paired.record import Record
from thermsim.bench.uncertainty import propagated
from thermsim.case.benching import Bench
from thermsim.case.case import Case
from thermsim.case.channels import is_temperature
from thermsim.physics.air import dry_air
from thermsim.physics.coolants import CoolantRange, coolant
from thermsim.physics.moist_air import dew_point
from thermsim.physics.touch import AMBIENT_DEGC, touch_limit

POWER_WITHIN = 0.05  # of the case's watts; common practice, no source
FLOW_KNOWN = 0.05  # relative standard uncertainty of a flow meter; common practice, no source
DEW_MARGIN = 2.0  # K; common practice, no source
BACKGROUND_NEAR = 6.0  # dB over the background, under which a level is an upper bound, ISO 3744
Facts = dict[str, Any]


def carried(case: Case, record: Record, settings: Bench) -> list[Facts]:
    """Heat by stream, W, where flow, inlet and outlet were logged: ρ·c·V̇·ΔT and its standard uncertainty.

    `case`: with the option that stood on the bench. Air is taken at the stream's inlet (fans blow in or out: a few per
    cent between), coolant between its ends. Positive: taken up.
    """
    found = []
    for name in case.spec.airway:
        flow, inlet, outlet = (record.mean_of(f"airway.{name}.{key}") for key in ("flow", "inlet", "outlet"))
        if flow is not None and inlet is not None and outlet is not None:
            air = dry_air(inlet, case.spec.room.air_pressure())
            found.append(_heat(f"airway.{name}", flow, inlet, outlet, air.density * air.cp, settings))
    for name, loop in case.spec.loop.items():
        flow = record.mean_of(f"loop.{name}.flow")
        liquid = coolant(loop.coolant, loop.fraction, loop.fraction_by)
        for address in loop.path:
            if not isinstance(address, str):
                continue  # branches: each carries a part of the flow
            inlet, outlet = (record.mean_of(f"{address}.{key}") for key in ("inlet", "outlet"))
            if flow is None or inlet is None or outlet is None:
                continue
            try:
                state = liquid.at(0.5 * (inlet + outlet))
            except CoolantRange:
                continue
            found.append(_heat(address, flow, inlet, outlet, state.density * state.cp, settings))
    return found


def _heat(stream: str, flow: float, inlet: float, outlet: float, per_volume: float, settings: Bench) -> Facts:
    apart = outlet - inlet
    u_apart = settings.calibration * np.sqrt(2.0)  # two probes, whose errors differ
    u = propagated((per_volume * apart, per_volume * flow), (FLOW_KNOWN * flow, u_apart))
    return {"stream": stream, "watts": per_volume * flow * apart, "u_w": u, "rise_k": apart, "flow_m3_per_s": flow}


def power(case: Case, record: Record) -> Facts | None:
    """Supply watts as logged beside what the case puts in: parts, sources, fans, pumps; None where none were logged.

    Fans and pumps take their stated heat times speed³, at the speed they were logged at or else the case's.
    """
    logged = record.watts
    if logged is None:
        return None
    state = record.state or case.spec.run.state
    stated = 0.0
    for part in case.spec.part.values():
        watts = part.watts
        stated += watts.get(state, 0.0) if isinstance(watts, dict) else watts
    stated += sum(source.watts or 0.0 for source in case.spec.source.values())
    for name, fan in case.spec.fan.items():
        stated += fan.heat * fan.count * fan.in_series * _speed(record, f"fan.{name}", fan.speed) ** 3
    for name, pump in case.spec.pump.items():
        stated += pump.heat * _speed(record, f"pump.{name}", pump.speed) ** 3
    agrees = stated > 0 and abs(logged / stated - 1.0) <= POWER_WITHIN
    return {"logged_w": logged, "case_w": stated, "ratio": logged / stated if stated else None, "agrees": agrees}


def _speed(record: Record, channel: str, usual: float) -> float:
    logged = record.mean_of(channel)
    return usual if logged is None else logged


def noise(records: Sequence[Record]) -> Facts | None:
    """Whether the background was logged, and how near it was, dB; None where no noise was."""
    levels = [record.mean_of("noise") for record in records]
    floors = [record.mean_of("noise.background") for record in records]
    if any(level is None for level in levels):
        return None
    over = [
        level - floor for level, floor in zip(levels, floors, strict=True) if level is not None and floor is not None
    ]
    return {
        "over_background_db": min(over) if over else None,
        "upper_bound": bool(over) and min(over) < BACKGROUND_NEAR,
        "corrected": len(over) == len(levels),
    }


def dew(case: Case, record: Record) -> Facts | None:
    """How far the coldest reading stays over the room's dew point, K; None without a humidity or a room."""
    humidity = record.mean_of("humidity") or case.spec.room.humidity
    room = record.room_degc
    if humidity is None or room is None or not 0 < humidity <= 1:
        return None
    means = {channel: record.mean_of(channel) for channel in record.channels if is_temperature(channel)}
    known = {channel: mean for channel, mean in means.items() if mean is not None}
    if not known:
        return None
    coldest = min(known, key=lambda channel: known[channel])
    point = dew_point(room, humidity)
    return {
        "dew_point_degc": point, "coldest": coldest, "coldest_degc": known[coldest],
        "margin_k": known[coldest] - point, "dry": known[coldest] - point >= DEW_MARGIN,
    }  # fmt: skip


def touched(record: Record, settings: Bench) -> list[Facts]:
    """Surfaces that hands reach, in a room of 25 °C, against their limits."""
    found = []
    for channel, touch in settings.touch.items():
        rise = record.own_rise(channel)
        if rise is None:
            continue
        limit = touch.limit if touch.limit is not None else touch_limit(touch.material, touch.contact)
        degc = AMBIENT_DEGC + rise
        found.append({
            "channel": channel, "degc_at_25": degc, "limit_degc": limit, "material": touch.material,
            "contact_s": touch.contact, "over": degc > limit,
        })  # fmt: skip
    return found

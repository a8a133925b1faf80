"""What fans and pumps sound like at the listener, at their speeds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from thermsim.case.flow import Fan, Noisy, Pump
from thermsim.case.schema import Spec
from thermsim.model.system import Model
from thermsim.physics.acoustics import a_level, distance_change, distance_level, level_sum, speed_change

SILENT = 0.0  # dB(A) shown where nothing runs


def noise_levels(model: Model, speeds: Mapping[str, float]) -> tuple[float, float]:
    """Level of all fans and pumps at their speeds, and with the room's floor, dB(A); 50 log10 of the speed."""
    levels = source_levels(model, speeds)
    floor = model.case.spec.room.noise_floor
    source = level_sum(levels.values()) if levels else -np.inf
    total = level_sum([*levels.values(), *([floor] if floor is not None else [])])
    return max(source, SILENT), max(total, SILENT)


def noise_known(model: Model) -> bool:
    """Whether any noise was stated, or nothing is there to make any that is heard."""
    sources = _devices(model.case.spec)
    return not sources or any(level_of(table) is not None for table, _ in sources.values())


def unstated(spec: Spec) -> list[str]:
    """Fan tables and pumps that may run and are heard, but whose noise was not stated: levels are told without them."""
    driven = {device: table.max_speed > 0 for table in spec.governor.values() for device in table.drives}
    runs = {address: driven.get(address, table.speed > 0) for address, (table, _) in _devices(spec).items()}
    return [address for address, (table, _) in _devices(spec).items() if runs[address] and level_of(table) is None]


def left_out(devices: Sequence[str]) -> str:
    """What a level leaves out: "without pump.main: no noise stated"."""
    return f"without {', '.join([*devices[:-2], ' and '.join(devices[-2:])])}: no noise stated"


def without(devices: Sequence[str]) -> str:
    """The same behind a level in a sentence, in brackets; nothing where nothing is left out."""
    return f" ({left_out(devices)})" if devices else ""


def source_levels(model: Model, speeds: Mapping[str, float]) -> dict[str, float]:
    """Level at the listener of each running fan table and pump, dB(A), where its noise was stated."""
    return {
        address: level + gain
        for address, (table, gain) in _running(model.case.spec, speeds).items()
        if (level := level_of(table)) is not None
    }


def source_bands(model: Model, speeds: Mapping[str, float]) -> dict[str, list[float]]:
    """Unweighted octave bands at the listener of each running fan table and pump, dB, where they were stated.

    All bands of a fan move with its speed as its level does; that their pitch moves too is left out.
    """
    return {
        address: [band + gain for band in table.noise_bands]
        for address, (table, gain) in _running(model.case.spec, speeds).items()
        if table.noise_bands is not None
    }


def level_of(table: Noisy) -> float | None:
    """Stated A-weighted level or power of one device, or the sum of its bands, dB(A)."""
    if table.noise is None and table.noise_bands is not None:
        return a_level(table.noise_bands)
    return table.noise


def _devices(spec: Spec) -> dict[str, tuple[Fan | Pump, int]]:
    """Every fan table and pump that is heard, by address, with the number alike."""
    fans = {f"fan.{name}": (fan, fan.count * fan.in_series) for name, fan in spec.fan.items() if fan.heard}
    return {**fans, **{f"pump.{name}": (pump, 1) for name, pump in spec.pump.items() if pump.heard}}


def _running(spec: Spec, speeds: Mapping[str, float]) -> dict[str, tuple[Noisy, float]]:
    """Every running fan table and pump, with the dB from what was stated of one to all of them at the listener."""
    return {
        address: (table, level_sum([0.0] * count) + speed_change(speeds[address]) + _to_listener(spec, table))
        for address, (table, count) in _devices(spec).items()
        if speeds[address] > 0
    }


def _to_listener(spec: Spec, table: Noisy) -> float:
    """Change from what was stated to the level at the listener, dB."""
    room = spec.room
    if room.listener is None:
        return 0.0
    if table.noise_is == "power":
        return distance_level(0.0, room.listener, room.spreading)
    return 0.0 if table.noise_distance is None else distance_change(table.noise_distance, room.listener)

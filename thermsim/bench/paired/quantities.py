"""What is told of each channel: of temperatures the rise over the room, of others the reading, in a person's units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from thermsim.case.channels import is_temperature, split_channel

BESIDE = ("room", "humidity", "noise.background", "pressure", "atmosphere", "temperature")  # conditions, not results
_UNITS = {
    ("fan", ""): ("%", 100.0), ("pump", ""): ("%", 100.0), ("airway", "flow"): ("m³/h", 3600.0),
    ("loop", "flow"): ("L/min", 6e4), ("loop", "pressure"): ("kPa", 1e-3), ("part", "watts"): ("W", 1.0),
    ("supply", "watts"): ("W", 1.0), ("supply", "volts"): ("V", 1.0), ("supply", "amps"): ("A", 1.0),
    ("noise", ""): ("dB(A)", 1.0),
}  # fmt: skip
NOISE_REPEATS = 0.5  # dB, standard deviation of the same level from run to run; common practice, no source
REPEATS = 0.01  # of other readings; common practice, no source
_ORDER = ("part", "probe", "airway", "plate", "block", "radiator", "hose", "reservoir", "fan", "pump", "loop", "supply")


@dataclass(frozen=True)
class Quantity:
    """How a channel is told: `factor` from SI to `unit`."""

    channel: str
    unit: str
    factor: float

    @property
    def is_rise(self) -> bool:
        """Whether it is told as a rise over the room, K."""
        return is_temperature(self.channel)

    def repeatability(self, rises: float, level: float) -> float:
        """What is assumed of single runs, standard deviation in SI or K: `rises` (K) of temperatures; `level`: SI."""
        if self.is_rise:
            return rises
        return NOISE_REPEATS if self.channel == "noise" else REPEATS * abs(level)


def quantity_of(channel: str) -> Quantity:
    """How a channel is told."""
    if is_temperature(channel):
        return Quantity(channel, "K", 1.0)
    kind, _, key = split_channel(channel)
    unit, factor = _UNITS.get((kind, key), ("", 1.0))
    return Quantity(channel, unit, factor)


def results(channels: Iterable[str]) -> list[str]:
    """Those of some channels that are compared, parts first, each kind in the order given."""
    kept = [channel for channel in channels if channel not in BESIDE]
    return sorted(kept, key=lambda channel: (_rank(channel), kept.index(channel)))


def _rank(channel: str) -> int:
    kind = split_channel(channel)[0]
    return _ORDER.index(kind) if kind in _ORDER else len(_ORDER)

"""What a closed volume of gas loses, from its pressure and temperature before and after: the ideal gas law.

Pressures are absolute. Rates are Pa·m³/s of gas counted at 20 °C, positive for gas that went out; `units` has the
same at 0 °C and one atmosphere as "sccm".
"""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.physics.basics import STANDARD_ATMOSPHERE_PA
from thermsim.units import ZERO_CELSIUS_K

COUNTED_AT_K = 20.0 + ZERO_CELSIUS_K
GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018, exact
GAMMA = 1.4  # of air


@dataclass(frozen=True)
class Reading:
    """Absolute pressure (Pa) and temperature of the gas (°C)."""

    pressure: float
    degc: float

    @property
    def kelvin(self) -> float:
        """Absolute temperature."""
        return self.degc + ZERO_CELSIUS_K


def corrected_drop(first: Reading, last: Reading) -> float:
    """Fall of pressure (Pa) that cooling does not explain: p1 − p2·T1/T2, both at the first temperature."""
    return first.pressure - last.pressure * first.kelvin / last.kelvin


def leak_rate(volume: float, first: Reading, last: Reading, time: float) -> float:
    """Gas lost a second, Pa·m³/s at 20 °C, from a volume (m³) in a time (s)."""
    return volume * corrected_drop(first, last) * COUNTED_AT_K / first.kelvin / time


def moles_per_second(rate: float) -> float:
    """The same in mol/s."""
    return rate / (GAS_CONSTANT * COUNTED_AT_K)


def pascals_per_kelvin(reading: Reading) -> float:
    """What 1 K changes the pressure of a closed volume by, Pa/K."""
    return reading.pressure / reading.kelvin


def stored_energy(volume: float, pressure: float, outside: float = STANDARD_ATMOSPHERE_PA) -> float:
    """Energy (J) that air of a pressure gives when it bursts out, expanding without heat; 0 at or below outside's.

    pV/(γ − 1)·[1 − (p0/p)^((γ−1)/γ)]: ASME PCC-2, appendix on the stored energy of pneumatic tests (from memory).
    """
    if pressure <= outside:
        return 0.0
    kept = float((outside / pressure) ** ((GAMMA - 1) / GAMMA))
    return pressure * volume / (GAMMA - 1) * (1 - kept)

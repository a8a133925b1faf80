"""A closed loop that warms: the coolant grows, and a gas cushion, if there is one, takes it up."""

from __future__ import annotations

from .basics import ZERO_CELSIUS_K
from .moist_air import saturation_pressure

# Pa. Water 2.18e9 at 20 °C, 2.26e9 at 40 °C (IAPWS-95, isothermal); glycol mixtures are stiffer by up to a quarter
BULK_MODULUS = 2.2e9


def liquid_full_rise(growth: float) -> float:
    """Pressure (Pa) that a vessel full of liquid alone would reach if nothing gave; `growth` is the liquid's share.

    Bulk modulus times growth. Hoses stretch and so take some of it; what they do not take bursts something.
    """
    return BULK_MODULUS * growth


def cushion_pressure(filled_pa: float, gas: float, growth: float, filled_degc: float, hot_degc: float) -> float | None:
    """Absolute pressure (Pa) of a cushion of `gas` m³ at filling, after the coolant grew by `growth` m³ and all warmed.

    Ideal gas with water vapour in equilibrium (that of pure water, a little high for glycol); nothing else stretches,
    which is the safe side. No gas dissolves, which is not: air under pressure goes into the coolant over weeks, and
    what is left of the cushion must be looked after. None where the growth fills the cushion.
    """
    if growth >= gas:
        return None
    warmed = (hot_degc + ZERO_CELSIUS_K) / (filled_degc + ZERO_CELSIUS_K)
    dry = (filled_pa - saturation_pressure(filled_degc)) * warmed * gas / (gas - growth)
    return dry + saturation_pressure(hot_degc)


def cushion_needed(
    filled_pa: float, most_pa: float, growth: float, filled_degc: float, hot_degc: float
) -> float | None:
    """Least cushion (m³ at filling) that keeps its absolute pressure to `most_pa`; see `cushion_pressure`.

    None where no cushion does, for warming alone takes it above that.
    """
    warmed = (hot_degc + ZERO_CELSIUS_K) / (filled_degc + ZERO_CELSIUS_K)
    dry = (filled_pa - saturation_pressure(filled_degc)) * warmed
    allowed = most_pa - saturation_pressure(hot_degc)
    return growth / (1.0 - dry / allowed) if allowed > dry else None

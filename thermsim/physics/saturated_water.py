"""Water in equilibrium with its vapour, as it is inside a heat pipe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt

from .basics import ZERO_CELSIUS_K
from .moist_air import saturation_pressure
from .ranges import check_range

CRITICAL_K = 647.096
CRITICAL_DENSITY = 322.0  # kg/m³
LOWEST_DEGC, HIGHEST_DEGC = 1.0, 199.0
_STEP_K = 0.01  # for the slope of the vapour pressure

# IAPWS SR1-86 (1992), equations 2 and 3: coefficients and exponents of 1 - T/T_critical
_LIQUID = (
    (1.99274064, 1 / 3), (1.09965342, 2 / 3), (-0.510839303, 5 / 3), (-1.75493479, 16 / 3), (-45.5170352, 43 / 3),
    (-6.74694450e5, 110 / 3),
)  # fmt: skip
_VAPOUR = (
    (-2.03150240, 2 / 6), (-2.68302940, 4 / 6), (-5.38626492, 8 / 6), (-17.2991605, 18 / 6), (-44.7586581, 37 / 6),
    (-63.9201063, 71 / 6),
)  # fmt: skip
_THIN_GAS = (1.67752, 2.20462, 0.6366564, -0.241605)  # IAPWS R12-08, equation 11


@dataclass(frozen=True)
class SaturatedWater:
    """Both phases at one temperature, SI: Pa, kg/m³, J/kg, N/m, Pa·s."""

    pressure: float
    liquid_density: float
    vapour_density: float
    latent_heat: float
    surface_tension: float
    liquid_viscosity: float
    vapour_viscosity: float


def saturated_water(temperature_degc: float) -> SaturatedWater:
    """Properties from 1 to 199 °C; beyond, those at the end, and a note is made.

    Densities: IAPWS SR1-86. Surface tension: IAPWS R1-76. Latent heat: Clapeyron's equation on the ASHRAE vapour
    pressure. Vapour viscosity: the thin-gas term of IAPWS R12-08 (4 % high at 200 °C). Liquid viscosity: Al-Shemmeri
    (2012), 2.414e-5·10^(247.8/(T - 140)), within 2 %.
    """
    check_range("saturated water", "temperature", temperature_degc, LOWEST_DEGC, HIGHEST_DEGC, " °C")
    degc = min(max(temperature_degc, LOWEST_DEGC), HIGHEST_DEGC)
    kelvin = degc + ZERO_CELSIUS_K
    below = 1.0 - kelvin / CRITICAL_K
    liquid = CRITICAL_DENSITY * (1.0 + _sum(_LIQUID, below))
    vapour = CRITICAL_DENSITY * exp(_sum(_VAPOUR, below))
    slope = (saturation_pressure(degc + _STEP_K) - saturation_pressure(degc - _STEP_K)) / (2.0 * _STEP_K)
    reduced = kelvin / CRITICAL_K
    thin = sum(h / reduced**power for power, h in enumerate(_THIN_GAS))
    return SaturatedWater(
        pressure=saturation_pressure(degc),
        liquid_density=liquid,
        vapour_density=vapour,
        latent_heat=kelvin * slope * (1.0 / vapour - 1.0 / liquid),
        surface_tension=0.2358 * below**1.256 * (1.0 - 0.625 * below),
        liquid_viscosity=2.414e-5 * 10.0 ** (247.8 / (kelvin - 140.0)),
        vapour_viscosity=1e-4 * sqrt(reduced) / thin,
    )


def _sum(terms: Sequence[tuple[float, float]], below: float) -> float:
    return float(sum(coefficient * below**exponent for coefficient, exponent in terms))

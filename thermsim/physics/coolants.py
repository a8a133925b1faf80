"""Liquid coolants: water, ethylene glycol and propylene glycol in water.

Water is IAPWS at one atmosphere; the glycols are Melinder's (IIR 2010) by mass fraction, without inhibitors.
Data sets of inhibited products scatter about these by 7 % in viscosity and 2 % in heat capacity.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, sqrt
from typing import Literal

from .basics import ZERO_CELSIUS_K
from .polynomials import Polynomial, read_polynomials

HIGHEST_FRACTION = 0.6
HIGHEST_DEGC = 100.0  # water boils at one atmosphere, and the mixture data end

# kg/m³ at 20 °C, to turn volume into mass fractions: CRC Handbook of Chemistry and Physics; IAPWS for water
_DENSITY_20_DEGC = {"water": 998.2, "ethylene glycol": 1113.5, "propylene glycol": 1036.1}
_TABLE = read_polynomials("liquids.csv")


class CoolantRange(ValueError):
    """The coolant would freeze or boil."""


@dataclass(frozen=True)
class LiquidState:
    """Density kg/m³, heat capacity J/kgK, conductivity W/mK, viscosity Pa·s."""

    density: float
    cp: float
    conductivity: float
    viscosity: float

    @property
    def prandtl(self) -> float:
        """Prandtl number µ·cp/k."""
        return self.viscosity * self.cp / self.conductivity


@dataclass(frozen=True)
class Coolant:
    """A coolant by name and mass fraction of glycol. Make one with `coolant`."""

    name: str
    mass_fraction: float
    freezing_degc: float
    _density: Polynomial = field(repr=False)
    _cp: Polynomial = field(repr=False)
    _conductivity: Polynomial = field(repr=False)
    _log_viscosity: Polynomial = field(repr=False)

    def at(self, temperature_degc: float) -> LiquidState:
        """Properties at a temperature; raises `CoolantRange` below freezing or above 100 °C."""
        self._require_liquid(temperature_degc)
        return LiquidState(
            self._density(temperature_degc),
            self._cp(temperature_degc),
            self._conductivity(temperature_degc),
            exp(self._log_viscosity(temperature_degc)),
        )

    def expansion(self, from_degc: float, to_degc: float) -> float:
        """Fraction by which the volume grows from one temperature to another."""
        self._require_liquid(from_degc)
        self._require_liquid(to_degc)
        return self._density(from_degc) / self._density(to_degc) - 1.0

    def boiling_degc(self, pressure_pa: float) -> float:
        """Boiling point (°C) at an absolute pressure: that of water, which for a glycol mixture is too low.

        IAPWS-IF97 region 4 backward equation, 611 Pa to 22 MPa. Glycol hardly evaporates, so a mixture
        boils a few kelvin later than water; the water value errs on the safe side.
        """
        return water_boiling_degc(pressure_pa)

    def _require_liquid(self, temperature_degc: float) -> None:
        if temperature_degc < self.freezing_degc:
            raise CoolantRange(
                f"{self} at {temperature_degc:.1f} °C is below its freezing point, {self.freezing_degc:.1f} °C"
            )
        if temperature_degc > HIGHEST_DEGC:
            raise CoolantRange(
                f"{self} at {temperature_degc:.1f} °C is above {HIGHEST_DEGC:.0f} °C, "
                "where it may boil and its property data end"
            )

    def __str__(self) -> str:
        return self.name if self.name == "water" else f"{self.name} {100 * self.mass_fraction:.3g} % by mass"


def coolant(name: str, fraction: float = 0.0, by: Literal["mass", "volume"] = "mass") -> Coolant:
    """Water, ethylene glycol or propylene glycol with a fraction 0 to 0.6 of glycol, by mass or by volume.

    A volume fraction is that of the pure liquids at 20 °C before mixing (mixing shrinks them by under 1 %).
    """
    if name not in _DENSITY_20_DEGC:
        raise ValueError(f"unknown coolant {name!r}: give one of {', '.join(_DENSITY_20_DEGC)}")
    if by not in ("mass", "volume"):
        raise ValueError(f"a coolant's fraction is by 'mass' or by 'volume', not {by!r}")
    if name == "water" and fraction != 0.0:
        raise ValueError("water has no glycol fraction; name the glycol instead")
    mass_fraction = volume_to_mass_fraction(name, fraction) if by == "volume" else fraction
    if not 0.0 <= mass_fraction <= HIGHEST_FRACTION:
        raise ValueError(f"{name}: mass fraction {mass_fraction:.3g} is outside 0 to {HIGHEST_FRACTION}")
    freezing = 0.0
    if name != "water":
        freezing = Polynomial.of_temperature(_TABLE, name, "freezing", mass_fraction).coefficients[0]
    quantities = ("density", "cp", "conductivity", "log_viscosity")
    return Coolant(
        name,
        mass_fraction,
        freezing,
        *(Polynomial.of_temperature(_TABLE, name, quantity, mass_fraction) for quantity in quantities),
    )


def volume_to_mass_fraction(name: str, volume_fraction: float) -> float:
    """Mass fraction of a glycol from the volume fraction of the pure liquids at 20 °C."""
    glycol = volume_fraction * _DENSITY_20_DEGC[name]
    return glycol / (glycol + (1.0 - volume_fraction) * _DENSITY_20_DEGC["water"])


# IAPWS-IF97 (R7-97), Table 34
_IF97 = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


def water_boiling_degc(pressure_pa: float) -> float:
    """Saturation temperature (°C) of water at an absolute pressure, IAPWS-IF97 equation 31."""
    if not 611.213 <= pressure_pa <= 22.064e6:
        raise CoolantRange(f"water has no boiling point at {pressure_pa:.4g} Pa (611 Pa to 22.06 MPa)")
    n = _IF97
    beta = (pressure_pa / 1e6) ** 0.25
    e = beta * beta + n[2] * beta + n[5]
    f = n[0] * beta * beta + n[3] * beta + n[6]
    g = n[1] * beta * beta + n[4] * beta + n[7]
    d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g))
    kelvin: float = 0.5 * (n[9] + d - sqrt((n[9] + d) ** 2 - 4.0 * (n[8] + n[9] * d)))
    return kelvin - ZERO_CELSIUS_K

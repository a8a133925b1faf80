"""Dry air: properties by temperature, density as an ideal gas, pressure by altitude."""

from __future__ import annotations

from dataclasses import dataclass

from .basics import STANDARD_ATMOSPHERE_PA, ZERO_CELSIUS_K, Number, hold_within
from .polynomials import Polynomial, read_polynomials
from .ranges import check_range

GAS_CONSTANT = 287.05  # J/kgK, dry air (US Standard Atmosphere 1976)
LOWEST_DEGC, HIGHEST_DEGC = -80.0, 300.0

_table = read_polynomials("air.csv")
_CP = Polynomial.of_temperature(_table, "air", "cp")
_VISCOSITY = Polynomial.of_temperature(_table, "air", "viscosity")
_CONDUCTIVITY = Polynomial.of_temperature(_table, "air", "conductivity")


@dataclass(frozen=True)
class AirState:
    """Density kg/m³, heat capacity J/kgK, viscosity Pa·s, conductivity W/mK, at a temperature in °C."""

    density: float
    cp: float
    viscosity: float
    conductivity: float
    temperature_degc: float

    @property
    def prandtl(self) -> float:
        """Prandtl number µ·cp/k."""
        return self.viscosity * self.cp / self.conductivity

    @property
    def kinematic_viscosity(self) -> float:
        """m²/s."""
        return self.viscosity / self.density

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity, m²/s."""
        return self.conductivity / (self.density * self.cp)

    @property
    def expansion(self) -> float:
        """Volume expansion coefficient of an ideal gas, 1/K."""
        return 1.0 / (self.temperature_degc + ZERO_CELSIUS_K)


def air_properties(
    temperature_degc: Number, pressure_pa: float = STANDARD_ATMOSPHERE_PA
) -> tuple[Number, Number, Number, Number]:
    """Density, heat capacity, viscosity, conductivity (SI) of dry air; numbers or arrays.

    Density p/(287.05 T): at one atmosphere 0.1 % below the real gas, 0.25 % at -75 °C. The others are
    polynomials fitted to CoolProp (Lemmon et al. 2000, 2004) at one atmosphere; they hardly depend on
    pressure. -80 to 300 °C; beyond, all are held at their last value, with a note.
    """
    held = temperature_degc
    if not check_range("dry air", "temperature", temperature_degc, LOWEST_DEGC, HIGHEST_DEGC, "°C"):
        held = hold_within(temperature_degc, LOWEST_DEGC, HIGHEST_DEGC)
    density = pressure_pa / (GAS_CONSTANT * (held + ZERO_CELSIUS_K))
    return density, _CP(held), _VISCOSITY(held), _CONDUCTIVITY(held)


def dry_air(temperature_degc: float, pressure_pa: float = STANDARD_ATMOSPHERE_PA) -> AirState:
    """State of dry air; see `air_properties` for source and range."""
    return AirState(*air_properties(temperature_degc, pressure_pa), temperature_degc)


def pressure_at_altitude(metres: float) -> float:
    """Pressure (Pa) at a geometric height above sea level, US Standard Atmosphere 1976, up to 80 km."""
    from fluids import ATMOSPHERE_1976

    return float(ATMOSPHERE_1976(metres).P)

"""Heat transfer coefficients of surfaces in air: natural, forced, mixed, and radiation.

Functions of a surface temperature take a number or an array. Air properties are at the film temperature, the
mean of surface and air.
"""

from __future__ import annotations

from typing import Literal

from .air import AirState, air_properties
from .basics import GRAVITY, STANDARD_ATMOSPHERE_PA, STEFAN_BOLTZMANN, ZERO_CELSIUS_K, Number, choose
from .correlated import Correlated
from .ducts import nusselt, rectangular_duct
from .ranges import check_range

Orientation = Literal["vertical", "up", "down"]


def nu_vertical_churchill_chu(ra: Number, pr: Number) -> Number:
    """Mean Nu of a vertical isothermal plate, all Ra to 1e12.

    Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323; Incropera & DeWitt equation 9.26.
    """
    check_range("Churchill-Chu vertical plate", "Ra", ra, 0.0, 1e12)
    prandtl_term = (1.0 + (0.492 / pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nu: Number = (0.825 + 0.387 * ra ** (1.0 / 6.0) / prandtl_term) ** 2
    return nu


def nu_horizontal_up_mcadams(ra: Number) -> Number:
    """Mean Nu of a hot plate facing up (or a cold one facing down), on area/perimeter.

    0.54 Ra^(1/4), Ra 1e4 to 1e7; 0.15 Ra^(1/3), to 1e11 (McAdams 1954; Incropera & DeWitt equations 9.30,
    9.31). The larger of the two, so there is no jump; they cross at Ra 4.7e6. Below Ra 1e4 it is too low,
    which is safe.
    """
    check_range("McAdams hot plate facing up", "Ra", ra, 0.0, 1e11)
    low: Number = 0.54 * ra**0.25
    high: Number = 0.15 * ra ** (1.0 / 3.0)
    return choose(low > high, low, high)


def nu_horizontal_down_mcadams(ra: Number) -> Number:
    """Mean Nu of a hot plate facing down (or a cold one facing up), on area/perimeter.

    0.27 Ra^(1/4), Ra 1e5 to 1e10 (McAdams 1954; Incropera & DeWitt equation 9.32). Below Ra 1e5 it is used
    on.
    """
    check_range("McAdams hot plate facing down", "Ra", ra, 0.0, 1e10)
    nu: Number = 0.27 * ra**0.25
    return nu


def _film_state(
    surface_degc: Number, air_degc: float, length: float, pressure_pa: float
) -> tuple[Number, Number, Number]:
    """Rayleigh number, Prandtl number, and conductivity over length (W/m²K)."""
    film_degc = 0.5 * (surface_degc + air_degc)
    density, cp, viscosity, conductivity = air_properties(film_degc, pressure_pa)
    buoyancy = GRAVITY * abs(surface_degc - air_degc) / (film_degc + ZERO_CELSIUS_K)
    ra = buoyancy * length**3 * density**2 * cp / (viscosity * conductivity)
    return ra, viscosity * cp / conductivity, conductivity / length


def natural_vertical_churchill_chu(
    surface_degc: Number, air_degc: float, height: float, pressure_pa: float = STANDARD_ATMOSPHERE_PA
) -> Number:
    """Natural convection of a vertical plate of a height, W/m²K; see `nu_vertical_churchill_chu`."""
    ra, pr, k_over_height = _film_state(surface_degc, air_degc, height, pressure_pa)
    return nu_vertical_churchill_chu(ra, pr) * k_over_height


def natural_film(
    orientation: Orientation,
    surface_degc: Number,
    air_degc: float,
    length: float,
    pressure_pa: float = STANDARD_ATMOSPHERE_PA,
) -> Number:
    """Natural convection (W/m²K) of a face that is vertical, or looks up or down.

    `length` is the height of a vertical face, area over perimeter of a horizontal one. A face colder than
    the air behaves as a hot one looking the other way.
    """
    if orientation == "vertical":
        return natural_vertical_churchill_chu(surface_degc, air_degc, length, pressure_pa)
    if orientation not in ("up", "down"):
        raise ValueError(f"orientation {orientation!r}: give 'vertical', 'up' or 'down'")
    ra, _, k_over_length = _film_state(surface_degc, air_degc, length, pressure_pa)
    hot = surface_degc >= air_degc
    free = hot if orientation == "up" else surface_degc < air_degc
    return choose(free, nu_horizontal_up_mcadams(ra), nu_horizontal_down_mcadams(ra)) * k_over_length


_TRANSITION_RE = 5e5
_LAMINAR_START = 0.037 * _TRANSITION_RE**0.8 - 0.664 * _TRANSITION_RE**0.5  # 871


def flat_plate(velocity: float, length: float, air: AirState) -> Correlated:
    """Mean forced convection (W/m²K) along a flat isothermal plate in free air.

    Laminar 0.664 Re^(1/2) Pr^(1/3) to Re 5e5; then mixed, (0.037 Re^0.8 - 871) Pr^(1/3), to 1e8 (Incropera
    & DeWitt equations 7.30, 7.38; 871 at full precision so that the two meet). They take air halfway to the plate's
    temperature; models give the stream's, which makes 0.3 % more where the plate is 30 K over it.
    """
    re = velocity * length / air.kinematic_viscosity
    check_range("flat plate", "Re", re, 0.0, 1e8)
    if re <= _TRANSITION_RE:
        nu, name, regime = 0.664 * re**0.5, "laminar flat plate", "laminar"
    else:
        nu, name, regime = 0.037 * re**0.8 - _LAMINAR_START, "mixed flat plate", "turbulent"
    return Correlated(nu * air.prandtl ** (1.0 / 3.0) * air.conductivity / length, name, regime)


def duct_film(velocity: float, gap_height: float, width: float, length: float, air: AirState) -> Correlated:
    """Mean forced convection (W/m²K) in the passage between a board and a lid; see `ducts.nusselt`.

    All four walls at one temperature. Parts standing in the passage stir the air, so true values are higher.
    """
    duct = rectangular_duct(width, gap_height)
    diameter = duct.hydraulic_diameter
    re = velocity * diameter / air.kinematic_viscosity
    nu = nusselt(re, air.prandtl, duct.laminar_nu, diameter / length)
    return Correlated(nu.value * air.conductivity / diameter, f"rectangular passage, {nu.name}", nu.regime)


def mixed(forced: Number, natural: Number) -> Number:
    """Assisting forced and natural convection together: (f³ + n³)^(1/3), Incropera & DeWitt equation 9.64."""
    total: Number = (forced**3 + natural**3) ** (1.0 / 3.0)
    return total


def radiation_coefficient(emissivity: float, t1_degc: Number, t2_degc: Number) -> Number:
    """Radiation between a small grey surface and its surroundings, per kelvin of difference, W/m²K; exact."""
    t1, t2 = t1_degc + ZERO_CELSIUS_K, t2_degc + ZERO_CELSIUS_K
    return emissivity * STEFAN_BOLTZMANN * (t1 + t2) * (t1 * t1 + t2 * t2)


def two_surface_emissivity(e1: float, e2: float) -> float:
    """Effective emissivity of two large parallel grey plates, 1/(1/e1 + 1/e2 - 1); 0 if either is 0."""
    return 0.0 if e1 <= 0.0 or e2 <= 0.0 else 1.0 / (1.0 / e1 + 1.0 / e2 - 1.0)

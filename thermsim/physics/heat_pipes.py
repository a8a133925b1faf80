"""Heat pipes: how much they carry before the wick runs dry. Never better than a factor of 2."""

from __future__ import annotations

from math import pi

from .basics import GRAVITY


def derated_capacity(capacity: float, bends: int, bend_factor: float = 0.9, flattening_factor: float = 1.0) -> float:
    """Capacity (W) left after bends and flattening, each bend costing the same factor.

    Common practice, no source: a bend of at least three diameters costs some 10 %.
    """
    return capacity * bend_factor**bends * flattening_factor


def capillary_limit(
    *,
    surface_tension: float,
    pore_radius: float,
    permeability: float,
    wick_area: float,
    latent_heat: float,
    liquid_density: float,
    liquid_viscosity: float,
    effective_length: float,
    vapour_density: float = 0.0,
    vapour_viscosity: float = 0.0,
    vapour_radius: float = 0.0,
    rise: float = 0.0,
) -> float:
    """Largest heat flow (W) the wick's capillary pressure can return liquid for; SI throughout.

    2σ/r = ρ g·rise + Q (liquid drop + vapour drop) by Darcy's law in the wick and laminar flow in a round
    vapour core (left out at `vapour_radius` 0); `rise` is the height of the evaporator above the condenser,
    negative when gravity helps. Chi, Heat Pipe Theory and Practice (1976); Faghri (1995). 0 when gravity
    wins.
    """
    available = 2.0 * surface_tension / pore_radius - liquid_density * GRAVITY * rise
    liquid = liquid_viscosity / (permeability * wick_area * liquid_density)
    vapour = 0.0
    if vapour_radius > 0.0:
        vapour = 8.0 * vapour_viscosity / (pi * vapour_radius**4 * vapour_density)
    return max(0.0, available * latent_heat / (effective_length * (liquid + vapour)))


def effective_length(evaporator: float, adiabatic: float, condenser: float) -> float:
    """Length (m) over which the full flow may be taken to travel: half the two ends and all between."""
    return 0.5 * (evaporator + condenser) + adiabatic


def wick_permeability_sintered(sphere_radius: float, porosity: float) -> float:
    """Permeability (m²) of sintered spheres, r² ε³/(37.5 (1 - ε)²): Chi (1976), Kozeny-Carman."""
    return sphere_radius**2 * porosity**3 / (37.5 * (1.0 - porosity) ** 2)


def pore_radius_sintered(sphere_radius: float) -> float:
    """Effective pore radius (m) of packed or sintered spheres, 0.41 of the sphere's: Chi (1976)."""
    return 0.41 * sphere_radius


def porosity_screen(wire: float, opening: float) -> float:
    """Porosity of wrapped screen, 1 - 1.05 π N d/4, with N wires a metre of diameter d; Chi (1976)."""
    return 1.0 - 1.05 * pi * wire / (4.0 * (wire + opening))


def pore_radius_screen(wire: float, opening: float) -> float:
    """Effective pore radius (m) of a screen, half the distance from wire to wire; Chi (1976)."""
    return 0.5 * (wire + opening)


def wick_permeability_screen(wire: float, porosity: float) -> float:
    """Permeability (m²) of wrapped screen of wires of a diameter, d² ε³/(122 (1 - ε)²); Chi (1976)."""
    return wire**2 * porosity**3 / (122.0 * (1.0 - porosity) ** 2)


def wick_conductivity_screen(solid: float, liquid: float, porosity: float) -> float:
    """Conductivity (W/mK) of saturated wrapped screen, Rayleigh's form for wires across the heat; Chi (1976)."""
    share = (1.0 - porosity) * (liquid - solid) / (liquid + solid)
    return liquid * (1.0 - share) / (1.0 + share)


def wick_conductivity_packed(solid: float, liquid: float, porosity: float) -> float:
    """Conductivity (W/mK) of saturated loose spheres, Maxwell's form with the liquid continuous; Chi (1976).

    A lower bound for a sintered wick, whose necks conduct.
    """
    share = 2.0 * (1.0 - porosity) * (liquid - solid) / (2.0 * liquid + solid)
    return liquid * (1.0 - share) / (1.0 + 0.5 * share)


def effective_conductivity(watts: float, length: float, area: float, drop: float) -> float:
    """Conductivity (W/mK) of the solid rod that would carry as much over a length at the same drop, K.

    For comparison only: a rod has no limit, a heat pipe has.
    """
    return watts * length / (area * drop)


def wick_conductivity_sintered(solid: float, liquid: float, porosity: float) -> float:
    """Conductivity (W/mK) of a saturated sintered wick, Maxwell's form with the solid continuous.

    Chi (1976); Faghri (1995). An upper bound: measured wicks conduct less.
    """
    ratio = liquid / solid
    return solid * (2.0 + ratio - 2.0 * porosity * (1.0 - ratio)) / (2.0 + ratio + porosity * (1.0 - ratio))

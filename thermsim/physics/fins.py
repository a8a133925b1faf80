"""Straight plate fins: efficiency, sink resistance, films and pressure drop in the gaps."""

from __future__ import annotations

from math import sqrt, tanh

from .air import AirState, dry_air
from .basics import GRAVITY, STANDARD_ATMOSPHERE_PA
from .correlated import Correlated
from .ducts import LAMINAR_UP_TO, friction_factor, nusselt, rectangular_duct, regime


def fin_efficiency(conductivity: float, thickness: float, height: float, h: float) -> float:
    """Efficiency of a straight fin with an adiabatic tip, tanh(mH)/(mH), m = √(2h/kt).

    Incropera & DeWitt equation 3.89. Conductivity W/mK, thickness and height m, film h W/m²K.
    """
    mh = height * sqrt(2.0 * h / (conductivity * thickness))
    return tanh(mh) / mh if mh > 1e-6 else 1.0


def gap_width(base_width: float, fin_count: int, fin_thickness: float) -> float:
    """Clear width (m) of each of the fin_count - 1 gaps; the outer fins stand flush with the base's sides."""
    if fin_count < 2:
        raise ValueError("a plate-fin sink needs at least 2 fins")
    gap = (base_width - fin_count * fin_thickness) / (fin_count - 1)
    if gap <= 0.0:
        raise ValueError(f"{fin_count} fins of {fin_thickness:g} m do not fit on a {base_width:g} m wide base")
    return gap


def plate_fin_sink(
    base_width: float,
    base_length: float,
    fin_count: int,
    fin_height: float,
    fin_thickness: float,
    fin_conductivity: float,
    h: float,
) -> float:
    """Thermal resistance (K/W) from the base's upper face to the air in the gaps: fins beside bare base.

    Both sides of every fin count; tips do not. Spreading in the base is not included.
    """
    gap = gap_width(base_width, fin_count, fin_thickness)
    efficiency = fin_efficiency(fin_conductivity, fin_thickness, fin_height, h)
    fins = fin_count * 2.0 * fin_height * base_length * efficiency
    bare = (fin_count - 1) * gap * base_length
    return 1.0 / (h * (fins + bare)) if h > 0.0 else float("inf")


def plate_fin_film(velocity: float, gap: float, fin_height: float, length: float, air: AirState) -> Correlated:
    """Mean film (W/m²K) in the gaps between fins, each a rectangular duct; `velocity` is that in the gaps.

    Referred to the difference between the wall and the local mean air temperature; see `ducts.nusselt`.
    """
    duct = rectangular_duct(fin_height, gap)
    diameter = duct.hydraulic_diameter
    re = velocity * diameter / air.kinematic_viscosity
    nu = nusselt(re, air.prandtl, duct.laminar_nu, diameter / length)
    return Correlated(nu.value * air.conductivity / diameter, f"fin gap, {nu.name}", nu.regime)


def natural_gap_film(
    surface_degc: float,
    air_degc: float,
    gap: float,
    length: float,
    pressure_pa: float = STANDARD_ATMOSPHERE_PA,
) -> float:
    """Natural convection (W/m²K) between vertical fins of one temperature; `length` is their height.

    Bar-Cohen & Rohsenow, J. Heat Transfer 106 (1984) 116; referred to surface minus surrounding air.
    """
    film = dry_air(0.5 * (surface_degc + air_degc), pressure_pa)
    buoyancy = GRAVITY * film.expansion * abs(surface_degc - air_degc)
    ra = buoyancy * gap**3 / (film.kinematic_viscosity * film.diffusivity)
    return nu_gap_bar_cohen(ra * gap / length) * film.conductivity / gap


def nu_gap_bar_cohen(elenbaas: float) -> float:
    """Mean Nu on the gap between isothermal vertical plates, by Elenbaas number Ra·gap/height; 0 at rest."""
    if elenbaas <= 0.0:
        return 0.0
    return 1.0 / sqrt(576.0 / elenbaas**2 + 2.873 / sqrt(elenbaas))


def gap_pressure_drop(
    velocity: float, gap: float, fin_height: float, length: float, air: AirState, open_fraction: float = 0.0
) -> Correlated:
    """Pressure drop (Pa) through the gaps at the velocity in them, with entry and exit losses.

    Laminar apparent friction of developing flow, f·Re = √(3.44²/x⁺ + (f·Re)²) (Fanning), x⁺ = L/(D Re)
    (Muzychka & Yovanovich 1998; Culham & Muzychka 2001), developed friction above Re 2300; the developing
    excess is carried over unchanged, so there is no jump. Entry 0.42 (1 - σ²), exit (1 - σ²)², where σ is
    `open_fraction`, the open part of the frontal area (0: from and into a wide space).
    """
    if velocity <= 0.0:
        return Correlated(0.0, "no flow", "laminar")
    duct = rectangular_duct(fin_height, gap)
    diameter = duct.hydraulic_diameter
    re = velocity * diameter / air.kinematic_viscosity
    head = 0.5 * air.density * velocity**2
    developed = friction_factor(re, duct.laminar_f_re).value
    laminar_re = min(re, LAMINAR_UP_TO)
    f_re = duct.laminar_f_re / 4.0
    excess = 4.0 * (sqrt(3.44**2 * diameter * laminar_re / length + f_re**2) - f_re) / laminar_re
    contraction = 1.0 - open_fraction**2
    k = 0.42 * contraction + contraction**2
    drop = head * ((developed + excess) * length / diameter + k)
    return Correlated(drop, "developing duct friction with entry and exit losses", regime(re))

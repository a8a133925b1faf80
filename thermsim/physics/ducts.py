"""Flow and heat transfer inside ducts: round, rectangular, and flat gaps.

Laminar, transitional and turbulent values join without a jump, so that an operating point always has one
root.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from math import log, pi
from typing import Literal

from .correlated import Correlated
from .ranges import check_range

Regime = Literal["laminar", "near transition", "transitional", "turbulent"]

LAMINAR_UP_TO = 2300.0
TURBULENT_FROM = 4000.0
NEAR_TRANSITION_FROM = 1800.0


@dataclass(frozen=True)
class Duct:
    """A duct's cross-section (SI), with its fully developed laminar constants.

    `laminar_f_re` is the Darcy friction factor times Re; `laminar_nu` is for a uniform wall temperature,
    which is lower, and so on the safe side, than for a uniform heat flux. Both use the hydraulic diameter.
    `laminar_nu` refers to the heated perimeter.
    """

    hydraulic_diameter: float
    area: float
    heated_perimeter: float
    wetted_perimeter: float
    laminar_f_re: float
    laminar_nu: float
    label: str


def round_duct(diameter: float) -> Duct:
    """A circular tube heated all round: Darcy f·Re = 64, Nu_T = 3.657 (Shah & London 1978)."""
    perimeter = pi * diameter
    return Duct(diameter, pi * diameter**2 / 4.0, perimeter, perimeter, 64.0, 3.657, "round")


def rectangular_duct(width: float, depth: float, heated_walls: int = 4) -> Duct:
    """A rectangular duct, heated on 4 walls or on 3 (not on one of the two walls of length `width`, the lid).

    Constants by Shah & London; on 3 walls the 4-wall Nusselt number is scaled by `three_wall_ratio`.
    """
    if heated_walls not in (3, 4):
        raise ValueError(f"a rectangular duct is heated on 3 or 4 walls, not {heated_walls}")
    aspect = min(width, depth) / max(width, depth)
    perimeter = 2.0 * (width + depth)
    nu, heated, label = nu_t_rectangular_shah_london(aspect), perimeter, "rectangular, 4 walls heated"
    if heated_walls == 3:
        nu *= three_wall_ratio(width, depth)
        heated = perimeter - width
        label = "rectangular, 3 walls heated (computed, no published value)"
    return Duct(
        4.0 * width * depth / perimeter,
        width * depth,
        heated,
        perimeter,
        f_re_rectangular_shah_london(aspect),
        nu,
        label,
    )


def f_re_rectangular_shah_london(aspect: float) -> float:
    """Darcy f·Re, fully developed laminar flow; aspect = short/long side, 0 to 1.

    Shah & London, Laminar Flow Forced Convection in Ducts (1978), equation 341; within 0.1 % of the exact
    series.
    """
    a = aspect
    return 96.0 * (1 - a * (1.3553 - a * (1.9467 - a * (1.7012 - a * (0.9564 - a * 0.2537)))))


def nu_t_rectangular_shah_london(aspect: float) -> float:
    """Laminar Nu at uniform wall temperature on 4 walls; aspect = short/long side, 0 to 1.

    Shah & London (1978), fit to their table; within 0.7 % of a numerical solution.
    """
    a = aspect
    return 7.541 * (1 - a * (2.610 - a * (4.970 - a * (5.119 - a * (2.702 - a * 0.548)))))


def nu_h1_rectangular_shah_london(aspect: float) -> float:
    """Laminar Nu at uniform axial heat flux (H1) on 4 walls; aspect = short/long side, 0 to 1.

    Shah & London (1978), equation 346, via `ht`.
    """
    from ht import Nu_laminar_rectangular_Shan_London  # the library spells it so

    return float(Nu_laminar_rectangular_Shan_London(aspect))


# Nu with one wall adiabatic (on the heated perimeter) over Nu on 4 walls, both H1. The long wall's value at
# aspect 0 is exact (5.385/8.235, Shah & London); the rest is computed by finite volumes, unpublished.
_ASPECTS = (0.0, 0.125, 0.25, 0.5, 1.0)
_LONG_WALL_ADIABATIC = (5.385 / 8.235, 4.088 / 6.493, 3.440 / 5.332, 3.140 / 4.124, 3.569 / 3.608)
_SHORT_WALL_ADIABATIC = (1.0, 6.795 / 6.493, 5.761 / 5.332, 4.539 / 4.124, 3.569 / 3.608)


def three_wall_ratio(width: float, depth: float) -> float:
    """Nu with one wall of length `width` adiabatic over Nu on 4 walls; computed, no published value."""
    aspect = min(width, depth) / max(width, depth)
    ratios = _LONG_WALL_ADIABATIC if width >= depth else _SHORT_WALL_ADIABATIC
    i = min(bisect_right(_ASPECTS, aspect), len(_ASPECTS) - 1)
    share = (aspect - _ASPECTS[i - 1]) / (_ASPECTS[i] - _ASPECTS[i - 1])
    return ratios[i - 1] + share * (ratios[i] - ratios[i - 1])


def regime(re: float) -> Regime:
    """Flow regime: laminar below Re 1800, near transition to 2300, transitional to 4000, then turbulent.

    2300 and 4000 are the customary bounds (VDI Heat Atlas G1). 1800 is ours, a margin: rough inlets, bends
    and the tolerance of a flow estimate can bring transition on early.
    """
    if re < NEAR_TRANSITION_FROM:
        return "laminar"
    if re < LAMINAR_UP_TO:
        return "near transition"
    return "transitional" if re < TURBULENT_FROM else "turbulent"


def _blend(re: float, at_2300: float, at_4000: float) -> float:
    """Linear in Re across the transition, after Gnielinski, Int. J. Heat Mass Transfer 63 (2013) 134-140."""
    share = (re - LAMINAR_UP_TO) / (TURBULENT_FROM - LAMINAR_UP_TO)
    return (1.0 - share) * at_2300 + share * at_4000


def friction_factor(re: float, laminar_f_re: float = 64.0, relative_roughness: float = 0.0) -> Correlated:
    """Darcy friction factor, fully developed: f·Re/Re below Re 2300, Colebrook above 4000, linear between.

    Colebrook (1939) on the hydraulic diameter through `fluids` (Clamond's exact explicit solution). Zero at
    rest.
    """
    if re <= 0.0:
        return Correlated(0.0, "no flow", "laminar")
    if re <= LAMINAR_UP_TO:
        return Correlated(laminar_f_re / re, "laminar f·Re, Shah & London", regime(re))
    from fluids.friction import Clamond

    if re >= TURBULENT_FROM:
        return Correlated(float(Clamond(re, relative_roughness)), "Colebrook", "turbulent")
    turbulent = float(Clamond(TURBULENT_FROM, relative_roughness))
    value = _blend(re, laminar_f_re / LAMINAR_UP_TO, turbulent)
    return Correlated(value, "linear in Re between laminar and Colebrook", "transitional")


def nusselt_gnielinski(re: float, pr: float) -> float:
    """Turbulent Nu in a smooth tube, without entry correction; Re 2300 to 5e6, Pr 0.5 to 2000.

    Gnielinski (1976) with Petukhov's f = (0.79 ln Re - 1.64)^-2, as in Incropera & DeWitt equations 8.62,
    8.21; errors up to 10 %.
    """
    from ht.conv_internal import turbulent_Gnielinski

    check_range("Gnielinski", "Re", re, LAMINAR_UP_TO, 5e6)
    check_range("Gnielinski", "Pr", pr, 0.5, 2000.0)
    darcy = (0.79 * log(re) - 1.64) ** -2
    return float(turbulent_Gnielinski(re, pr, darcy))


def nusselt(re: float, pr: float, laminar_nu: float, diameter_over_length: float = 0.0) -> Correlated:
    """Mean Nu over a duct's length, uniform wall temperature, any Re.

    Laminar: `laminar_nu` plus Hausen's thermal entry term, 0.0668 Gz/(1 + 0.04 Gz^(2/3)), Gz = Re·Pr·D/L
    (Hausen 1943; made for round tubes, flow already developed; 4 % above the exact solution at Gz 200).
    Turbulent: Gnielinski without entry term (low, the safe side). Between Re 2300 and 4000 linear in Re,
    Gnielinski 2013. At rest `laminar_nu`.
    """
    if re <= LAMINAR_UP_TO:
        name = "laminar with Hausen's thermal entry" if diameter_over_length else "fully developed laminar"
        return Correlated(_laminar(re, pr, laminar_nu, diameter_over_length), name, regime(re))
    if re >= TURBULENT_FROM:
        return Correlated(nusselt_gnielinski(re, pr), "Gnielinski", "turbulent")
    laminar = _laminar(LAMINAR_UP_TO, pr, laminar_nu, diameter_over_length)
    turbulent = nusselt_gnielinski(TURBULENT_FROM, pr)
    return Correlated(_blend(re, laminar, turbulent), "linear in Re to Gnielinski", "transitional")


def _laminar(re: float, pr: float, laminar_nu: float, diameter_over_length: float) -> float:
    graetz = max(re, 0.0) * pr * diameter_over_length
    entry: float = 0.0668 * graetz / (1.0 + 0.04 * graetz ** (2.0 / 3.0))
    return laminar_nu + entry


def entry_lengths(re: float, pr: float, hydraulic_diameter: float) -> tuple[float, float]:
    """Lengths (m) over which velocity and temperature profiles develop.

    Laminar 0.05 Re·D and 0.05 Re·Pr·D; above Re 2300 ten diameters for both (Incropera & DeWitt, equations 8.3, 8.23,
    8.4).
    """
    if re > LAMINAR_UP_TO:
        return 10.0 * hydraulic_diameter, 10.0 * hydraulic_diameter
    return 0.05 * re * hydraulic_diameter, 0.05 * re * pr * hydraulic_diameter


def reynolds(duct: Duct, flow_m3s: float, density: float, viscosity: float) -> float:
    """Reynolds number on the hydraulic diameter."""
    return density * flow_m3s / duct.area * duct.hydraulic_diameter / viscosity


def pressure_drop(
    duct: Duct, length: float, flow_m3s: float, density: float, viscosity: float, roughness: float = 0.0
) -> float:
    """Friction pressure drop (Pa) of fully developed flow; `roughness` in m. Odd in the flow."""
    velocity = flow_m3s / duct.area
    re = density * abs(velocity) * duct.hydraulic_diameter / viscosity
    friction = friction_factor(re, duct.laminar_f_re, roughness / duct.hydraulic_diameter).value
    return friction * length / duct.hydraulic_diameter * 0.5 * density * velocity * abs(velocity)

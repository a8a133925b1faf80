"""Minor losses: pressure lost in bends, changes of section, and fittings, as K of the velocity head."""

from __future__ import annotations

from .correlated import Correlated

_INCH = 0.0254

# K for fully turbulent flow on the velocity in the fitting's own bore. Below Re ~ 1000 they are too low.
FITTING_K: dict[str, float] = {
    "sharp entry": 0.5,  # Incropera & DeWitt; White, Fluid Mechanics, section 6.9
    "rounded entry": 0.05,  # White, Fluid Mechanics, section 6.9
    "protruding entry": 0.8,  # White; Crane TP-410 gives 0.78
    "exit": 1.0,  # all the velocity head is lost: exact for a uniform profile
    "elbow": 0.9,  # 90°, standard; White, table 6.5, from memory (0.75 to 1.5 by size)
    "long elbow": 0.6,  # 90°, long radius; Munson, Young & Okiishi, from memory (0.2 to 0.7)
    "mitre elbow": 1.1,  # 90°; Munson, Young & Okiishi, from memory
    "tee run": 0.4,  # White, table 6.5, from memory (0.2 to 0.9)
    "tee branch": 1.4,  # White, table 6.5, from memory (1.0 to 2.0)
    "ball valve": 0.1,  # fully open; common practice, no source
    "barb": 1.0,  # hose barb, bore smaller than the hose; common practice, no source
    "quick coupling": 4.0,  # with shut-off valves; common practice, no source (use the maker's curve)
    "mesh filter": 3.0,  # clean, coarse; common practice, no source
}


def sudden_expansion(diameter_ratio: float) -> float:
    """K on the smaller section's velocity head, diameter ratio small/large: Borda-Carnot (1 - β²)²."""
    return (1.0 - diameter_ratio**2) ** 2


def sudden_contraction(diameter_ratio: float) -> float:
    """K on the smaller section's velocity head, diameter ratio small/large.

    The textbook form 0.42 (1 - β²), White, Fluid Mechanics, equation 6.101; valid to β = 0.76, where it is
    used on. Rennels & Hudson's (2012) form, used by some libraries, is up to half as high again.
    """
    return 0.42 * (1.0 - diameter_ratio**2)


# Darby's 3-K constants of 90° bends: bend radius over bore, then K1, Ki, Kd (in inch^0.3)
_DARBY_BENDS = (
    (1.0, 800.0, 0.091, 4.0),
    (1.5, 800.0, 0.071, 4.2),
    (2.0, 800.0, 0.056, 3.9),
    (4.0, 800.0, 0.066, 3.9),
    (6.0, 800.0, 0.075, 4.2),
)
_DARBY_MITRE = (0.0, 1000.0, 0.27, 4.0)
_SMALLEST_TESTED_BORE = 0.0127  # half-inch pipe


def bend_loss(re: float, diameter: float, radius: float | None = None, angle_deg: float = 90.0) -> Correlated:
    """K of a bend with centre-line `radius` (m), or of a sharp mitre when no radius is given.

    Darby's 3-K method, K = K1/Re + Ki (1 + Kd/D^0.3) with D in inches (Darby, Chemical Engineering Fluid
    Mechanics, 2nd ed. 2001, table 7-3; via `fluids`): of the common methods, one that holds at low Re.
    Between tabulated radii the nearest is used; other angles scale in proportion. Scatter is large: methods
    differ from 0.2 to 1.8 at Re 500, and bores under half an inch are extrapolated. On the hydraulic
    diameter for other sections.
    """
    name = "Darby 3-K" if diameter >= _SMALLEST_TESTED_BORE else "Darby 3-K, extrapolated to a small bore"
    if re <= 0.0:
        return Correlated(0.0, name, "no flow")
    row = _DARBY_MITRE
    if radius is not None:
        row = min(_DARBY_BENDS, key=lambda bend: abs(bend[0] - radius / diameter))
    from fluids.fittings import Darby3K

    k = float(Darby3K(NPS=diameter / _INCH, Re=re, K1=row[1], Ki=row[2], Kd=row[3]))
    return Correlated(k * angle_deg / 90.0, name, "mitre" if radius is None else f"radius {row[0]:g} bores")


def minor_loss_pressure(k: float, flow_m3s: float, area: float, density: float) -> float:
    """Pressure drop (Pa) of a loss coefficient on the velocity in `area`; odd in the flow."""
    velocity = flow_m3s / area
    return k * 0.5 * density * velocity * abs(velocity)

"""Films of passages that are short against the length over which their profiles develop."""

from __future__ import annotations

from .ducts import LAMINAR_UP_TO, TURBULENT_FROM, nusselt, nusselt_gnielinski


def mean_nusselt(re: float, pr: float, laminar_nu: float, diameter_over_length: float) -> float:
    """Mean Nu over a passage's length with thermal entry in every regime, uniform wall temperature.

    Laminar as `ducts.nusselt` (Hausen 1943). Turbulent: Gnielinski times 1 + (D/L)^(2/3) (Hausen 1959; VDI Heat Atlas
    G1), for D/L up to 1. Between Re 2300 and 4000 linear in Re.
    """
    if re <= LAMINAR_UP_TO:
        return float(nusselt(re, pr, laminar_nu, diameter_over_length).value)
    entry: float = 1.0 + min(diameter_over_length, 1.0) ** (2.0 / 3.0)
    turbulent = entry * nusselt_gnielinski(max(re, TURBULENT_FROM), pr)
    if re >= TURBULENT_FROM:
        return turbulent
    laminar = float(nusselt(LAMINAR_UP_TO, pr, laminar_nu, diameter_over_length).value)
    share = (re - LAMINAR_UP_TO) / (TURBULENT_FROM - LAMINAR_UP_TO)
    return (1.0 - share) * laminar + share * turbulent

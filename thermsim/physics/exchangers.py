"""Heat exchangers by effectiveness and number of transfer units (NTU)."""

from __future__ import annotations

from math import expm1, sqrt
from typing import Literal

import numpy as np
from scipy.special import gammainc

Arrangement = Literal["counter", "parallel", "cross"]
_LARGEST_NTU = 1e12  # stands for infinity
_LONGEST_SERIES = 1000.0  # C_r·NTU beyond which cross-flow is taken as 1000: within 2 % of its limit


def effectiveness(ntu: float, capacity_ratio: float, arrangement: Arrangement) -> float:
    """Effectiveness (0 to 1) at NTU = UA/C_min and C_r = C_min/C_max (0 to 1).

    Counter and parallel flow: Kays & London, Compact Heat Exchangers. Cross-flow, both streams
    unmixed: Mason's exact series (1955). With C_r = 0 every arrangement gives 1 - exp(-NTU).
    """
    if not 0.0 <= capacity_ratio <= 1.0 + 1e-12:
        raise ValueError(f"capacity ratio {capacity_ratio:g} is outside 0 to 1")
    if ntu <= 0.0:
        return 0.0
    ntu, capacity_ratio = min(ntu, _LARGEST_NTU), min(capacity_ratio, 1.0)
    if capacity_ratio < 1e-12:
        return -expm1(-ntu)
    if arrangement == "cross":
        return cross_unmixed_mason(ntu, capacity_ratio)
    if arrangement == "parallel":
        return -expm1(-ntu * (1.0 + capacity_ratio)) / (1.0 + capacity_ratio)
    if arrangement == "counter":
        if capacity_ratio == 1.0:
            return ntu / (1.0 + ntu)
        approach = -expm1(-ntu * (1.0 - capacity_ratio))
        return approach / (1.0 - capacity_ratio + capacity_ratio * approach)
    raise ValueError(f"arrangement {arrangement!r}: give 'counter', 'parallel' or 'cross'")


def cross_unmixed_mason(ntu: float, capacity_ratio: float) -> float:
    """Cross-flow, both streams unmixed, exact: Σ P(n+1, NTU)·P(n+1, C_r·NTU)/(C_r·NTU), n from 0.

    Mason, Proc. 2nd US National Congress of Applied Mechanics (1955), 801; P is the regularised lower
    incomplete gamma function. All terms are positive, so nothing cancels in the limits.
    """
    other = min(ntu * capacity_ratio, _LONGEST_SERIES)
    terms = int(other + 10.0 * sqrt(other)) + 20
    order = np.arange(1.0, terms + 1.0)
    return float(gammainc(order, other / capacity_ratio) @ gammainc(order, other)) / other


def exchange_conductance(ua: float, capacity_a: float, capacity_b: float, arrangement: Arrangement) -> float:
    """Heat (W) per kelvin between the inlets, ε·C_min, from UA and two capacity flows (W/K); 0 at rest."""
    smaller, larger = sorted((capacity_a, capacity_b))
    if smaller <= 0.0 or ua <= 0.0:
        return 0.0
    return effectiveness(ua / smaller, smaller / larger, arrangement) * smaller

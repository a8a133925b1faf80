"""Printed boards as homogeneous sheets: conductivity and heat capacity of a stack-up."""

from __future__ import annotations

from collections.abc import Sequence

K_COPPER = 385.0  # W/mK, foil; pure annealed copper is 400
K_LAMINATE = 0.3  # W/mK, glass-epoxy; measured 0.34 through, about 1 in plane, so this is low, the safe side
HEAT_CAPACITY_COPPER = 8933.0 * 385.0  # J/m³K, Incropera & DeWitt table A.1
HEAT_CAPACITY_LAMINATE = 1850.0 * 1100.0  # J/m³K, glass-epoxy; from memory of laminate data sheets

Layers = Sequence[tuple[float, float]]


def stackup_conductivity(
    layers: Layers, total_thickness: float, k_copper: float = K_COPPER, k_laminate: float = K_LAMINATE
) -> tuple[float, float]:
    """In-plane and through-thickness conductivity (W/mK) of a board.

    `layers` lists (thickness m, copper fraction 0 to 1) of the copper layers; the rest of `total_thickness`
    is laminate. Layers conduct in parallel in plane and in series through the board, each as the mix of its
    copper and laminate. Direction-blind: cut or hatched copper conducts less in plane; vias add to the
    through value.
    """
    laminate = _laminate_thickness(layers, total_thickness)
    mixes = [(t, share * k_copper + (1.0 - share) * k_laminate) for t, share in layers]
    mixes.append((laminate, k_laminate))
    in_plane = sum(t * k for t, k in mixes) / total_thickness
    through = total_thickness / sum(t / k for t, k in mixes)
    return in_plane, through


def stackup_heat_capacity(
    layers: Layers,
    total_thickness: float,
    copper: float = HEAT_CAPACITY_COPPER,
    laminate: float = HEAT_CAPACITY_LAMINATE,
) -> float:
    """Heat capacity of a board per volume, J/m³K, by volume share of copper and laminate."""
    _laminate_thickness(layers, total_thickness)
    share = sum(t * fraction for t, fraction in layers) / total_thickness
    return share * copper + (1.0 - share) * laminate


def _laminate_thickness(layers: Layers, total_thickness: float) -> float:
    if any(t < 0.0 or not 0.0 <= share <= 1.0 for t, share in layers):
        raise ValueError("each copper layer needs a thickness of 0 or more and a copper fraction of 0 to 1")
    laminate = total_thickness - sum(t for t, _ in layers)
    if laminate < 0.0:
        raise ValueError("the copper layers are thicker than the board")
    return laminate

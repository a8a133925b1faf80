"""Thermal joints: paste, pads, glue."""

from __future__ import annotations


def joint_resistivity(bond_line: float, conductivity: float, contact: float = 0.0) -> float:
    """Resistance of a joint over unit area, m²K/W: bond line over conductivity, plus contact."""
    return bond_line / conductivity + contact

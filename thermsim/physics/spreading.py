"""Heat that enters a plate through a rectangle of its face and spreads: in three dimensions, and as a sheet tells it.

Yovanovich, Muzychka & Culham, J. Thermophysics and Heat Transfer 13 (1999) 495-500 (rectangles on finite flux
channels), and Muzychka, Culham & Yovanovich, J. Electronic Packaging 125 (2003) 178-185 (off centre): even flux over
the rectangle, adiabatic sides, films on the faces. A conductivity of its own through the plate stretches its thickness.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np

from .basics import FloatArray

TERMS = 12.0  # half waves across the rectangle: the mean is then good to 0.2 %
MOST_TERMS = 600


@dataclass(frozen=True)
class Slab:
    """A plate: sides (m), thickness (m), conductivities in x, in y and through (W/mK), and its films (W/m²K).

    `near`: on the face that takes the heat; `middle`: to coolant in its middle plane; `far`: on the other face.
    """

    sides: tuple[float, float]
    thickness: float
    conductivity: tuple[float, float, float]
    near: float = 0.0
    middle: float = 0.0
    far: float = 0.0

    @property
    def half(self) -> float:
        """Resistance through half the thickness, m²K/W."""
        return self.thickness / 2.0 / self.conductivity[2]


@dataclass(frozen=True)
class Spreading:
    """From the mean of the heated rectangle to what lies beyond the films, K/W.

    `solid`: in three dimensions, at the face. `sheet`: of a sheet heated in its middle plane, whose films act through
    half its thickness.
    """

    solid: float
    sheet: float


def spreading(slab: Slab, centre: tuple[float, float], size: tuple[float, float]) -> Spreading:
    """Both resistances of a rectangle about `centre` (m, from a corner of the slab). One film must not be zero."""
    weight_x, wave_x = _modes(slab.sides[0], centre[0], size[0])
    weight_y, wave_y = _modes(slab.sides[1], centre[1], size[1])
    k_x, k_y, _ = slab.conductivity
    in_plane = k_x * wave_x[:, None] ** 2 + k_y * wave_y[None, :] ** 2  # W/m³K
    weights = np.outer(weight_x, weight_y) / (slab.sides[0] * slab.sides[1])
    return Spreading(
        float((weights / _solid_admittance(slab, in_plane)).sum()),
        float((weights / _sheet_admittance(slab, in_plane)).sum()),
    )


def _modes(side: float, centre: float, size: float) -> tuple[FloatArray, FloatArray]:
    """Weight of each cosine along a side in the rectangle's mean for its own even flux, and its wave number, 1/m."""
    count = min(int(np.ceil(TERMS * side / size)), MOST_TERMS)
    wave: FloatArray = np.arange(count + 1, dtype=np.float64) * pi / side
    mean = np.cos(wave * centre) * np.sinc(wave * size / (2.0 * pi))
    weight: FloatArray = np.where(wave > 0, 2.0, 1.0) * mean**2
    return weight, wave


def _solid_admittance(slab: Slab, in_plane: FloatArray) -> FloatArray:
    """Flux into the near face per kelvin there, by mode: two half thicknesses with the coolant's film between."""
    through = slab.conductivity[2]
    decay = np.sqrt(in_plane / through)
    bend = np.tanh(decay * slab.thickness / 2.0)
    stiff = through * decay
    slack = np.divide(bend, stiff, out=np.full_like(stiff, slab.half), where=stiff > 0)

    def above(load: FloatArray | float) -> FloatArray:
        """What lies under half the thickness, seen from over it."""
        seen: FloatArray = (load + stiff * bend) / (1.0 + load * slack)
        return seen

    return slab.near + above(slab.middle + above(slab.far))


def _sheet_admittance(slab: Slab, in_plane: FloatArray) -> FloatArray:
    films = sum(film / (1.0 + film * slab.half) for film in (slab.near, slab.far)) + slab.middle
    return slab.thickness * in_plane + films

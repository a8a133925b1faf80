"""Smooth fields on rectangular sheets with adiabatic rims, and what conduction makes of them.

Method of manufactured solutions: Roache, J. Fluids Eng. 124 (2002) 4.
"""

from dataclasses import dataclass
from math import pi, sin

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.system import Model


@dataclass(frozen=True)
class Mode:
    """mean + swing · cos(pπ(x − x0)/length) cos(qπ(y − y0)/width), °C at x, y in m."""

    mean: float
    swing: float
    p: int
    q: int
    length: float
    width: float
    x0: float = 0.0
    y0: float = 0.0

    @property
    def kx(self) -> float:
        """Wave number along x, 1/m."""
        return self.p * pi / self.length

    @property
    def ky(self) -> float:
        """Wave number along y, 1/m."""
        return self.q * pi / self.width

    def on(self, model: Model, address: str = "sheet.s") -> Floats:
        """Values at the centres of a sheet's cells, shape (rows, columns)."""
        x, y = model.site.sheets[address].centres
        along, across = np.cos(self.kx * (x - self.x0)), np.cos(self.ky * (y - self.y0))
        return self.mean + self.swing * across[:, None] * along[None, :]

    def spread(self, model: Model, along: float, across: float, address: str = "sheet.s") -> Floats:
        """Heat that conduction carries away (W/m²) where k t is `along` in x and `across` in y (W/K)."""
        return (along * self.kx**2 + across * self.ky**2) * (self.on(model, address) - self.mean)

    def mean_over(self, left: float, front: float, width: float, depth: float) -> float:
        """Exact mean over a rectangle, °C."""
        x, y = left - self.x0, front - self.y0
        along = (sin(self.kx * (x + width)) - sin(self.kx * x)) / (self.kx * width)
        across = (sin(self.ky * (y + depth)) - sin(self.ky * y)) / (self.ky * depth)
        return self.mean + self.swing * along * across

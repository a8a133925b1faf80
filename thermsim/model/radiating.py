"""The law of radiating links: the fourth-power exchange as a coefficient of the temperature difference."""

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import Law
from thermsim.model.operating import Conditions
from thermsim.physics.films import radiation_coefficient


def radiating(emissivity: float, first: Ints, second: Ints) -> Law:
    """Coefficient (W/m²K) between each pair of surfaces, from their own temperatures."""

    def formula(now: Conditions, one: Floats, other: Floats) -> Floats:
        return np.asarray(radiation_coefficient(emissivity, one, other))

    return Law(formula, ends=(first, second))

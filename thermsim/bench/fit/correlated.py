"""How many independent readings a series is worth.

Readings taken close together repeat each other. The variance of a mean of n of them is `inflation` times that of n
independent ones: (1 + ρ)/(1 − ρ) for a first-order autoregression (G. E. P. Box, G. M. Jenkins, G. C. Reinsel, *Time
Series Analysis*), with ρ mended for the bias that a fit of k coefficients leaves (M. G. Kendall, Biometrika 41, 1954).
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from thermsim.model.arrays import Floats

FEWEST = 8  # readings from which a correlation can be told at all
FEWEST_BLOCKS = 40  # block means from which one can be told between blocks
ENOUGH_TO_MEND = 30  # readings; of fewer the mended ρ would be mostly the mending
MOST = 0.995  # ρ, beyond which a series is all trend


def inflation(residuals: Floats, coefficients: int = 1) -> float:
    """Readings per independent one, at least 1, from what a fit of some coefficients left; NaN are passed over.

    Slow wander under quick noise is found in the means of blocks, where it still holds together.
    """
    series = residuals[np.isfinite(residuals)]
    if series.size < FEWEST or not series.var() > 0:
        return 1.0
    found = _first_order(series, coefficients)
    for size in (4, 16, 64):
        blocks = series.size // size
        if blocks < FEWEST_BLOCKS:
            break
        means = series[: blocks * size].reshape(blocks, size).mean(axis=1)
        if _lag_one(means) > 2.0 / sqrt(blocks):
            found = max(found, size * float(means.var()) / float(series.var()) * _first_order(means, coefficients))
    return found


def _first_order(series: Floats, coefficients: int) -> float:
    count, k = series.size, coefficients
    rho = _lag_one(series)
    if count >= ENOUGH_TO_MEND:
        rho = (rho + k / count) / (1.0 - (k + 2) / count)
    rho = min(max(rho, 0.0), MOST)
    return min((1.0 + rho) / (1.0 - rho), count / 2.0)


def _lag_one(series: Floats) -> float:
    centred = series - series.mean()
    return float(centred[1:] @ centred[:-1]) / float(centred @ centred)

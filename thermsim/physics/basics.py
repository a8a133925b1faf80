"""The type of arguments that may be one number or an array of them."""

from __future__ import annotations

from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Number = TypeVar("Number", float, FloatArray)

ZERO_CELSIUS_K = 273.15
STANDARD_ATMOSPHERE_PA = 101325.0
STEFAN_BOLTZMANN = 5.670374419e-8  # W/m²K⁴, exact in the SI of 2019
GRAVITY = 9.80665  # m/s², standard


def choose(condition: object, yes: Number, no: Number) -> Number:
    """`yes` where the condition holds, else `no`; a float for floats, an array for arrays."""
    if isinstance(condition, np.ndarray):
        return cast(Number, np.where(condition, yes, no))
    return yes if condition else no


def hold_within(value: Number, low: float, high: float) -> Number:
    """A number or array with what lies outside low to high moved to that end."""
    if isinstance(value, np.ndarray):
        return cast(Number, np.clip(value, low, high))
    return min(max(value, low), high)

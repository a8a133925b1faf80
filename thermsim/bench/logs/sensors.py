"""Readings that no sensor had: numbers beyond what a bench can show."""

from __future__ import annotations

import numpy as np

from thermsim.case.channels import dimensions_of
from thermsim.model.arrays import Floats

# SI and °C; beyond is no reading of a bench of electronics: common practice, no source
POSSIBLE = {
    "temperature": (-90.0, 400.0),
    "fraction": (-0.02, 3.0),
    "power": (-10.0, 1e5),
    "voltage": (-1e4, 1e4),
    "current": (-1e3, 1e3),
    "level": (-20.0, 160.0),
    "flow": (-1.0, 10.0),
    "pressure": (-1.1e5, 1e8),
}


def impossible(channel: str, values: Floats) -> Floats:
    """Where a reading of this channel (SI, °C) is beyond what can be, as truth values."""
    low, high = POSSIBLE[dimensions_of(channel)[0]]
    with np.errstate(invalid="ignore"):
        return (values < low) | (values > high)

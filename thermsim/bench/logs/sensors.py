"""Readings that a sensor cannot have had: beyond what can be, spikes, stuck digits, a probe that fell off."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from thermsim.case.channels import dimensions_of, is_temperature
from thermsim.model.arrays import Floats, Ints

# SI and °C; outside is no reading of a bench of electronics: common practice, no source
POSSIBLE = {
    "temperature": (-90.0, 400.0),
    "fraction": (-0.02, 1.6),
    "power": (-1.0, 1e5),
    "voltage": (-1e4, 1e4),
    "current": (-1e3, 1e3),
    "level": (-20.0, 160.0),
    "flow": (-1.0, 10.0),
    "pressure": (-1.1e5, 1e8),
}
WRONG_UNIT_DEGC = 250.0  # a column whose middle is hotter is in another unit

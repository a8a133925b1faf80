"""Moist air: when does a chilled surface sweat?"""

from __future__ import annotations

import psychrolib

psychrolib.SetUnitSystem(psychrolib.SI)

LOWEST_DEGC, HIGHEST_DEGC = -100.0, 200.0  # of the equations


def dew_point(temperature_degc: float, relative_humidity: float) -> float:
    """Dew point (°C) of air at a dry-bulb temperature and a relative humidity of 0 to 1.

    ASHRAE Handbook: Fundamentals (2017), chapter 1, via psychrolib; -100 to 200 °C. Below 0 °C it is a
    frost point; air drier than that of -100 °C is given that one.
    """
    if not 0.0 < relative_humidity <= 1.0:
        raise ValueError(f"relative humidity {relative_humidity:g} is outside 0 to 1 (and must not be 0)")
    if relative_humidity * saturation_pressure(temperature_degc) <= saturation_pressure(LOWEST_DEGC):
        return LOWEST_DEGC
    return float(psychrolib.GetTDewPointFromRelHum(temperature_degc, relative_humidity))


def saturation_pressure(temperature_degc: float) -> float:
    """Saturation pressure (Pa) of water vapour over water, or over ice below 0 °C.

    ASHRAE Handbook: Fundamentals (2017), chapter 1, equations 5 and 6, via psychrolib; -100 to 200 °C.
    """
    return float(psychrolib.GetSatVapPres(temperature_degc))

"""Dew points; ASHRAE Handbook values, cross-checked with CoolProp's humid air."""

import pytest

from thermsim.physics.moist_air import dew_point, saturation_pressure


@pytest.mark.parametrize(
    ("temperature", "humidity", "dew"),
    [
        (25, 0.5, 13.864),
        (25, 0.8, 21.309),
        (30, 0.8, 26.169),
        (20, 0.6, 12.007),
        (35, 0.4, 19.385),
        (40, 0.2, 12.783),
    ],
)
def test_dew_point(temperature, humidity, dew):
    assert dew_point(temperature, humidity) == pytest.approx(dew, abs=2e-3)


def test_dew_point_against_coolprop():
    from CoolProp.HumidAirProp import HAPropsSI

    kelvin = HAPropsSI("D", "T", 298.15, "P", 101325.0, "R", 0.5)
    assert dew_point(25.0, 0.5) == pytest.approx(kelvin - 273.15, abs=0.01)


def test_saturated_air_is_at_its_dew_point():
    assert dew_point(18.0, 1.0) == pytest.approx(18.0, abs=1e-3)


def test_saturation_pressure():
    # ASHRAE Handbook: Fundamentals (2017), 3169.2 Pa at 25 °C
    assert saturation_pressure(25.0) == pytest.approx(3169.2, abs=0.1)


@pytest.mark.parametrize("humidity", [0.0, -0.1, 1.05, 50.0])
def test_humidity_must_be_a_share(humidity):
    with pytest.raises(ValueError, match="relative humidity"):
        dew_point(25.0, humidity)

"""Dry air against CoolProp, the standard atmosphere, and trade rules."""

import numpy as np
import pytest

from thermsim.physics.air import air_properties, dry_air, pressure_at_altitude
from thermsim.physics.ranges import OutOfRange, forget


@pytest.mark.parametrize("temperature", [-75.0, -20.0, 0.0, 25.0, 85.0, 150.0, 295.0])
def test_properties_against_coolprop(temperature):
    from CoolProp.CoolProp import PropsSI

    air, args = dry_air(temperature), ("T", temperature + 273.15, "P", 101325.0, "Air")
    assert air.density == pytest.approx(PropsSI("D", *args), rel=1e-3 if temperature > -30.0 else 3e-3)
    assert air.cp == pytest.approx(PropsSI("C", *args), rel=2e-4)
    assert air.viscosity == pytest.approx(PropsSI("V", *args), rel=2e-4)
    assert air.conductivity == pytest.approx(PropsSI("L", *args), rel=2e-4)
    assert air.prandtl == pytest.approx(PropsSI("PRANDTL", *args), rel=5e-4)


def test_density_at_300_k_one_atmosphere():
    # CoolProp 1.1770; the 1.1614 of some printed tables is for 100 kPa
    assert dry_air(26.85).density == pytest.approx(1.1770, rel=5e-4)


def test_derived_properties_of_incropera_table_a4_at_350_k():
    air = dry_air(76.85, 100000.0)  # the table's density is for 1 bar; table from memory
    assert air.kinematic_viscosity == pytest.approx(20.92e-6, rel=0.01)
    assert air.diffusivity == pytest.approx(29.9e-6, rel=0.01)
    assert air.expansion == pytest.approx(1 / 350.0)


def test_arrays_give_the_same_as_numbers():
    temperatures = np.array([-10.0, 25.0, 90.0])
    columns = np.array(air_properties(temperatures, 9e4))
    for column, temperature in zip(columns.T, temperatures, strict=True):
        assert column == pytest.approx(air_properties(float(temperature), 9e4))


def test_temperature_out_of_range_is_noted():
    forget()
    with pytest.warns(OutOfRange, match="dry air"):
        dry_air(400.0)


@pytest.mark.parametrize(
    ("metres", "pascals"), [(0.0, 101325.0), (1500.0, 84559.7), (3000.0, 70121.0), (5000.0, 54048.0)]
)
def test_pressure_at_geometric_altitude(metres, pascals):
    # US Standard Atmosphere 1976, geometric height
    assert pressure_at_altitude(metres) == pytest.approx(pascals, rel=1e-4)


@pytest.mark.parametrize("temperature,constant", [(20.0, 1.748), (25.0, 1.778), (35.0, 1.837)])  # noqa: PT006
def test_cubic_feet_per_minute_rule(temperature, constant):
    # flow in ft³/min = constant·watts/kelvin; the trade's "1.76" holds near 20 °C at sea level only
    air = dry_air(temperature)
    cubic_foot_per_minute = 0.3048**3 / 60.0
    assert 1.0 / (air.density * air.cp * cubic_foot_per_minute) == pytest.approx(constant, rel=1e-3)


def test_temperature_rise_of_100_w_in_10_cubic_metres_per_hour():
    # by hand: 100/(1.1843·1006.3·10/3600)
    air = dry_air(25.0)
    assert 100.0 / (air.density * air.cp * 10.0 / 3600.0) == pytest.approx(30.207, rel=1e-3)

"""Coolant properties against IAPWS values, CoolProp, and ASHRAE's glycol densities."""

import pytest

from thermsim.physics.coolants import CoolantRange, coolant, volume_to_mass_fraction, water_boiling_degc

# IAPWS-95, R12-08, R15-11 at one atmosphere, through two independent libraries
WATER = [
    (20.0, 998.207, 4184.1, 0.59801, 1.0016e-3, 7.008),
    (25.0, 997.048, 4181.3, 0.60652, 8.9002e-4, 6.136),
    (40.0, 992.216, 4179.4, 0.62849, 6.5273e-4, None),
    (60.0, 983.196, 4185.0, 0.65100, 4.6604e-4, None),
]


@pytest.mark.parametrize(("temperature", "density", "cp", "conductivity", "viscosity", "prandtl"), WATER)
def test_water_against_iapws(temperature, density, cp, conductivity, viscosity, prandtl):
    state = coolant("water").at(temperature)
    assert state.density == pytest.approx(density, rel=1e-5)
    assert state.cp == pytest.approx(cp, rel=1e-4)
    assert state.conductivity == pytest.approx(conductivity, rel=1e-4)
    assert state.viscosity == pytest.approx(viscosity, rel=1e-4)
    if prandtl:
        assert state.prandtl == pytest.approx(prandtl, rel=2e-4)


def test_water_conductivity_at_300_k():
    # IAPWS; the 0.613 of some printed tables is older
    assert coolant("water").at(26.85).conductivity == pytest.approx(0.6095, abs=2e-4)


@pytest.mark.parametrize("temperature", [0.5, 7.0, 33.0, 71.0, 99.5])
def test_water_table_against_coolprop(temperature):
    from CoolProp.CoolProp import PropsSI

    _against(PropsSI, coolant("water"), temperature, 101325.0, "Water")


@pytest.mark.parametrize(("name", "mixture"), [("ethylene glycol", "MEG"), ("propylene glycol", "MPG")])
@pytest.mark.parametrize("fraction", [0.0, 0.17, 0.33, 0.5, 0.6])
def test_glycol_table_against_coolprop(name, mixture, fraction):
    from CoolProp.CoolProp import PropsSI

    mix = coolant(name, fraction)
    reference = f"INCOMP::{mixture}[{fraction}]"
    assert mix.freezing_degc == pytest.approx(PropsSI("T_FREEZE", "T", 300, "P", 1e5, reference) - 273.15, abs=0.01)
    for temperature in (mix.freezing_degc + 0.5, 11.0, 47.0, 99.0):
        _against(PropsSI, mix, temperature, 1e6, reference)


def _against(props, liquid, temperature, pressure, reference):
    args = ("T", temperature + 273.15, "P", pressure, reference)
    state = liquid.at(temperature)
    assert state.density == pytest.approx(props("D", *args), rel=1e-4)
    assert state.cp == pytest.approx(props("C", *args), rel=1e-4)
    assert state.conductivity == pytest.approx(props("L", *args), rel=1e-4)
    assert state.viscosity == pytest.approx(props("V", *args), rel=2e-4)


def test_half_ethylene_glycol_by_mass():
    # Melinder (IIR 2010)
    mix = coolant("ethylene glycol", 0.5)
    cold, warm = mix.at(20.0), mix.at(40.0)
    assert (cold.density, cold.cp) == pytest.approx((1064.9, 3312.0), rel=1e-3)
    assert (cold.conductivity, cold.viscosity) == pytest.approx((0.389, 3.69e-3), rel=2e-3)
    assert (warm.density, warm.cp) == pytest.approx((1053.4, 3413.0), rel=1e-3)
    assert (warm.conductivity, warm.viscosity) == pytest.approx((0.4015, 2.10e-3), rel=2e-3)
    assert mix.freezing_degc == pytest.approx(-36.0, abs=0.1)


def test_half_ethylene_glycol_by_volume_against_ashrae_data():
    # CoolProp's AEG, ASHRAE Handbook data by volume; ASHRAE prints 67.05 lb/ft³ (1074.0 kg/m³) at 70 °F
    mix = coolant("ethylene glycol", 0.5, by="volume")
    assert mix.mass_fraction == pytest.approx(0.527, abs=1e-3)
    state = mix.at(20.0)
    assert state.density == pytest.approx(1073.3, rel=0.01)
    assert state.cp == pytest.approx(3281.0, rel=0.02)
    assert state.conductivity == pytest.approx(0.380, rel=0.04)
    assert state.viscosity == pytest.approx(3.88e-3, rel=0.10)
    assert mix.freezing_degc == pytest.approx(-37.1, abs=3.0)


def test_propylene_glycol_by_mass():
    # Melinder (IIR 2010)
    state = coolant("propylene glycol", 0.5).at(20.0)
    assert (state.density, state.cp) == pytest.approx((1039.1, 3530.0), rel=1e-3)
    assert (state.conductivity, state.viscosity) == pytest.approx((0.3595, 6.39e-3), rel=2e-3)
    assert coolant("propylene glycol", 0.3).freezing_degc == pytest.approx(-12.8, abs=0.1)
    assert coolant("ethylene glycol", 0.3).freezing_degc == pytest.approx(-14.6, abs=0.1)


@pytest.mark.parametrize(("pascals", "temperature"), [(0.1e6, 372.755919), (1e6, 453.035632), (10e6, 584.149488)])
def test_boiling_point_computer_check(pascals, temperature):
    # IAPWS R7-97 table 36, in kelvin, from memory
    assert water_boiling_degc(pascals) + 273.15 == pytest.approx(temperature, abs=1e-5)


def test_boiling_point_of_a_mixture_is_that_of_water():
    assert coolant("propylene glycol", 0.5).boiling_degc(101325.0) == pytest.approx(99.974, abs=1e-3)
    with pytest.raises(CoolantRange, match="no boiling point"):
        coolant("water").boiling_degc(100.0)


def test_expansion_of_water_from_20_to_60_degc():
    # 998.207/983.196 - 1, IAPWS
    assert coolant("water").expansion(20.0, 60.0) == pytest.approx(0.015268, rel=1e-3)


def test_one_kilowatt_in_one_litre_per_minute():
    # by hand: 1000/(997.05·4181.3/60000)
    state = coolant("water").at(25.0)
    assert 1000.0 / (state.density * state.cp * 1e-3 / 60.0) == pytest.approx(14.392, rel=1e-4)


def test_freezing_and_boiling_are_refused_in_plain_words():
    with pytest.raises(CoolantRange, match=r"water at -1.0 °C is below its freezing point, 0.0 °C"):
        coolant("water").at(-1.0)
    with pytest.raises(CoolantRange, match=r"ethylene glycol 30 % by mass at -20.0 °C"):
        coolant("ethylene glycol", 0.3).at(-20.0)
    with pytest.raises(CoolantRange, match="may boil"):
        coolant("water").at(101.0)
    with pytest.raises(CoolantRange, match="freezing"):
        coolant("water").expansion(20.0, -3.0)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("oil",), "unknown coolant"),
        (("water", 0.2), "no glycol fraction"),
        (("ethylene glycol", 0.61), "outside 0 to 0.6"),
        (("ethylene glycol", 0.3, "moles"), "'mass' or by 'volume'"),
    ],
)
def test_unusable_mixtures(arguments, message):
    with pytest.raises(ValueError, match=message):
        coolant(*arguments)


def test_volume_fraction_ends():
    assert volume_to_mass_fraction("propylene glycol", 0.0) == 0.0
    assert volume_to_mass_fraction("propylene glycol", 1.0) == 1.0
    # CRC Handbook: 1.0361 g/cm³ at 20 °C
    assert volume_to_mass_fraction("propylene glycol", 0.5) == pytest.approx(1.0361 / (1.0361 + 0.9982))

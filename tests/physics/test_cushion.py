"""What a warming loop does to its gas, or without any, against the gas law and IAPWS-95."""

import pytest
from CoolProp.CoolProp import PropsSI

from thermsim.physics.coolants import coolant
from thermsim.physics.cushion import BULK_MODULUS, cushion_needed, cushion_pressure, liquid_full_rise

AIR_PA = 101325.0


@pytest.mark.parametrize("degc", [20.0, 40.0, 60.0])
def test_bulk_modulus_of_water(degc):
    # IAPWS-95 through CoolProp
    compressibility = PropsSI("isothermal_compressibility", "T", degc + 273.15, "P", AIR_PA, "Water")
    assert 1 / compressibility == pytest.approx(BULK_MODULUS, rel=0.03)


def test_expansion_of_coolants():
    # IAPWS-95: 998.207 and 983.196 kg/m³; Melinder (IIR 2010) through CoolProp for 30 % propylene glycol
    assert coolant("water").expansion(20.0, 60.0) == pytest.approx(998.207 / 983.196 - 1, rel=5e-3)
    cold, hot = (PropsSI("D", "T", 273.15 + t, "P", AIR_PA, "INCOMP::MPG[0.30]") for t in (20, 60))
    assert coolant("propylene glycol", 0.3).expansion(20.0, 60.0) == pytest.approx(cold / hot - 1, rel=5e-3)
    assert coolant("propylene glycol", 0.3).expansion(20.0, 60.0) == pytest.approx(0.023, abs=0.001)


def test_a_loop_full_of_water_meets_hundreds_of_bar():
    # 20 to 60 °C at constant volume: IAPWS-95 at the density of 20 °C
    density = PropsSI("D", "T", 293.15, "P", AIR_PA, "Water")
    reference = PropsSI("P", "T", 333.15, "D", density, "Water") - AIR_PA
    # growth times a constant modulus takes water as if it expanded first: within 15 %
    assert liquid_full_rise(coolant("water").expansion(20.0, 60.0)) == pytest.approx(reference, rel=0.15)
    assert reference > 250e5


def test_dry_gas_law_and_vapour():
    # by hand: 100 mL of air at 20 °C squeezed to 90 mL at 60 °C; vapour 2.339 and 19.95 kPa (steam tables)
    dry = (101.325 - 2.339) * (333.15 / 293.15) * (100 / 90)
    found = cushion_pressure(AIR_PA, 100e-6, 10e-6, 20.0, 60.0)
    assert found == pytest.approx((dry + 19.95) * 1e3, rel=1e-3)


def test_the_cushion_needed_just_does():
    needed = cushion_needed(AIR_PA, 2e5, 5e-6, 20.0, 50.0)
    assert cushion_pressure(AIR_PA, needed, 5e-6, 20.0, 50.0) == pytest.approx(2e5)
    assert cushion_pressure(AIR_PA, 1.2 * needed, 5e-6, 20.0, 50.0) < 2e5


def test_where_no_cushion_helps():
    assert cushion_pressure(AIR_PA, 4e-6, 5e-6, 20.0, 50.0) is None  # full of liquid before
    assert cushion_needed(AIR_PA, 1.05e5, 5e-6, 20.0, 50.0) is None  # warming alone is more

"""Leak rates from pressure and temperature against a regulation's worked example and the ideal gas law."""

import pint
import pytest

from thermsim.physics.pressure_decay import (
    COUNTED_AT_K,
    Reading,
    corrected_drop,
    leak_rate,
    moles_per_second,
    pascals_per_kelvin,
    stored_energy,
)
from thermsim.units import SCCM, quantity


def test_worked_example_of_a_vacuum_decay():
    # 40 CFR 1065.644, example: 2.0000 L, 25.300 to 50.600 kPa absolute at 293.15 K in 70 s, R = 8.314472: in leaks
    # 0.00029657 mol/s
    rate = leak_rate(2.0000e-3, Reading(25_300.0, 20.0), Reading(50_600.0, 20.0), 70.0)
    assert moles_per_second(rate) == pytest.approx(-2.9657e-4, abs=0.5e-8)


def test_a_loop_that_cools_while_it_leaks():
    # ideal gas law: 1.5 L, 300.0 kPa at 23.0 °C to 298.6 kPa at 22.2 °C in 600 s; by hand
    # 1.5e-3 · 293.15/600 · (300000/296.15 − 298600/295.35) = 1.4630e-3 Pa·m³/s, 0.8072 cm³ a minute at 0 °C
    first, last = Reading(300_000.0, 23.0), Reading(298_600.0, 22.2)
    rate = leak_rate(1.5e-3, first, last, 600.0)
    assert rate == pytest.approx(1.4630e-3, rel=1e-4)
    assert rate / SCCM == pytest.approx(0.8072, rel=1e-4)
    without = leak_rate(1.5e-3, Reading(300_000.0, 20.0), Reading(298_600.0, 20.0), 600.0)
    assert without == pytest.approx(3.5e-3, rel=1e-12)  # temperature left out: more than twice as much


def test_the_same_with_pint():
    q = pint.UnitRegistry().Quantity
    lost = q("1.5 L") / q("600 s") * (q("300.0 kPa") / q("296.15 K") - q("298.6 kPa") / q("295.35 K"))
    first, last = Reading(300_000.0, 23.0), Reading(298_600.0, 22.2)
    rate = leak_rate(1.5e-3, first, last, 600.0)
    assert rate == pytest.approx((lost * q("293.15 K")).to("Pa*m**3/s").magnitude, rel=1e-12)
    as_sccm = (lost * q("273.15 K") / q("1 atm")).to("cm**3/min").magnitude
    assert rate == pytest.approx(quantity(f"{as_sccm!r} sccm", "leak_rate"), rel=1e-12)
    assert moles_per_second(rate) == pytest.approx((lost / q("1 R")).to("mol/s").magnitude, rel=1e-9)


def test_heating_alone_is_no_leak():
    # Gay-Lussac: at constant volume pressure goes with absolute temperature
    first = Reading(150_000.0, 20.0)
    for degc in (15.0, 20.1, 40.0):
        last = Reading(150_000.0 * (degc + 273.15) / 293.15, degc)
        assert corrected_drop(first, last) == pytest.approx(0.0, abs=1e-9)


def test_a_kelvin_at_three_bar():
    # ideal gas law: 300 kPa / 296.15 K = 1013 Pa/K
    assert pascals_per_kelvin(Reading(300_000.0, 23.0)) == pytest.approx(1013.0, abs=0.05)


def test_energy_of_compressed_air():
    # ASME PCC-2 (from memory): E = 2.5 Pat V [1 − (Pa/Pat)^0.286], its exponent rounded; Pat absolute
    told = 2.5 * 201_325 * 0.01 * (1 - (101_325 / 201_325) ** 0.286)
    assert stored_energy(0.01, 201_325.0) == pytest.approx(told, rel=2e-3)
    assert stored_energy(0.01, 90_000.0) == 0.0


def test_counted_at_twenty():
    assert COUNTED_AT_K == 293.15

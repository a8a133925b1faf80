"""Saturated water against the reference equations of CoolProp (IAPWS-95 and its companions)."""

import pytest
from CoolProp.CoolProp import PropsSI

from thermsim.physics.ranges import collect_ranges
from thermsim.physics.saturated_water import saturated_water


@pytest.mark.parametrize("degc", [5.0, 20.0, 60.0, 100.0, 150.0, 195.0])
def test_against_iapws_95(degc):
    def reference(quantity, quality):
        return PropsSI(quantity, "T", degc + 273.15, "Q", quality, "Water")

    water = saturated_water(degc)
    assert water.pressure == pytest.approx(reference("P", 0), rel=5e-4)
    assert water.liquid_density == pytest.approx(reference("D", 0), rel=5e-5)
    assert water.vapour_density == pytest.approx(reference("D", 1), rel=5e-4)
    assert water.latent_heat == pytest.approx(reference("H", 1) - reference("H", 0), rel=5e-4)
    assert water.surface_tension == pytest.approx(reference("I", 0), rel=6e-3)
    assert water.liquid_viscosity == pytest.approx(reference("V", 0), rel=0.02)
    assert water.vapour_viscosity == pytest.approx(reference("V", 1), rel=0.04)


def test_pressure_of_an_overheated_pipe():
    # steam tables: 15.5 bar at 200 °C
    with collect_ranges():
        assert saturated_water(200.0).pressure == pytest.approx(15.5e5, rel=0.025)


def test_beyond_its_range_it_holds_and_says_so():
    with collect_ranges() as notes:
        assert saturated_water(-20.0) == saturated_water(1.0)
        assert saturated_water(250.0) == saturated_water(199.0)
    assert len(notes) == 1

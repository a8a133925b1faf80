"""Plate fins against closed forms, Bar-Cohen & Rohsenow's optimum, and limits of duct flow."""

from math import inf

import pytest
from scipy.optimize import minimize_scalar

from thermsim.physics import ducts, fins
from thermsim.physics.air import dry_air


def test_straight_fin():
    # tanh(0.5)/0.5
    assert fins.fin_efficiency(200.0, 1e-3, 25e-3, 40.0) == pytest.approx(0.924234, rel=1e-6)
    # by hand: a 2 mm strip of 100 mm in h = 25 both sides, base 50 K up, gives off 180.4247 W/m
    assert fins.fin_efficiency(200.0, 2e-3, 0.1, 25.0) == pytest.approx(180.4247 / 250.0, rel=1e-6)
    assert fins.fin_efficiency(200.0, 1e-3, 0.0, 40.0) == 1.0


def test_sink_of_15_fins():
    # by hand: 60 x 60 mm, fins 25 x 1 mm, k 200, h 40
    assert fins.gap_width(60e-3, 15, 1e-3) == pytest.approx(3.21429e-3, rel=1e-5)
    resistance = fins.plate_fin_sink(60e-3, 60e-3, 15, 25e-3, 1e-3, 200.0, 40.0)
    assert resistance == pytest.approx(0.564455, rel=1e-5)
    assert fins.plate_fin_sink(60e-3, 60e-3, 15, 25e-3, 1e-3, 200.0, 0.0) == inf


def test_impossible_sinks():
    with pytest.raises(ValueError, match="do not fit"):
        fins.gap_width(10e-3, 11, 1e-3)
    with pytest.raises(ValueError, match="do not fit"):
        fins.gap_width(3.0, 3, 1.0)
    assert fins.gap_width(10e-3, 2, 1e-3) == pytest.approx(8e-3)
    with pytest.raises(ValueError, match="at least 2"):
        fins.gap_width(10e-3, 1, 1e-3)


def test_long_gap_is_a_developed_duct():
    # Shah & London: a 10:1 duct has Nu_T 5.908, Darcy f·Re 84.68
    air, gap, height, length = dry_air(30.0), 2e-3, 20e-3, 50.0
    diameter = 4 * gap * height / (2 * (gap + height))
    film = fins.plate_fin_film(1.0, gap, height, length, air)
    assert film.value == pytest.approx(5.908 * air.conductivity / diameter, rel=5e-3)
    drop = fins.gap_pressure_drop(1.0, gap, height, length, air)
    poiseuille = 84.68 * air.viscosity * length / (2 * diameter**2)
    assert drop.value == pytest.approx(poiseuille, rel=0.01)


def test_short_gap_is_a_flat_plate():
    # apparent friction tends to 3.44/√x⁺: twice-integrated boundary layers (Shah & London 1978)
    air, gap, height, length = dry_air(30.0), 5e-3, 50e-3, 1e-3
    diameter = 4 * gap * height / (2 * (gap + height))
    re = 2.0 * diameter / air.kinematic_viscosity
    friction = 4 * 3.44 / re * (re * diameter / length) ** 0.5
    head = 0.5 * air.density * 4.0
    drop = fins.gap_pressure_drop(2.0, gap, height, length, air, open_fraction=1.0).value
    assert drop == pytest.approx(head * friction * length / diameter, rel=0.05)


def test_entry_and_exit_losses_from_a_wide_space():
    air = dry_air(30.0)
    wide, none = (fins.gap_pressure_drop(2.0, 2e-3, 20e-3, 0.06, air, open_fraction=s).value for s in (0.0, 1.0))
    half, default = (
        fins.gap_pressure_drop(2.0, 2e-3, 20e-3, 0.06, air, 0.5).value,
        fins.gap_pressure_drop(2.0, 2e-3, 20e-3, 0.06, air).value,
    )
    head = 0.5 * air.density * 4.0
    assert wide - none == pytest.approx(1.42 * head)
    assert half - none == pytest.approx((0.42 * 0.75 + 0.75**2) * head)
    assert default == wide


def test_developing_friction_half_way():
    # Muzychka & Yovanovich: Fanning f·Re = √(3.44²/x⁺ + 21.17²) in a 10:1 duct; at x⁺ 0.02, 32.3
    air, gap, height = dry_air(30.0), 2e-3, 20e-3
    diameter = 4 * gap * height / (2 * (gap + height))
    velocity = 1000.0 * air.kinematic_viscosity / diameter
    length = 0.02 * diameter * 1000.0
    friction = 4 * (3.44**2 / 0.02 + 21.169**2) ** 0.5 / 1000.0
    drop = fins.gap_pressure_drop(velocity, gap, height, length, air, open_fraction=1.0).value
    assert drop == pytest.approx(friction * length / diameter * 0.5 * air.density * velocity**2, rel=1e-3)


def test_gap_pressure_has_no_jump_and_no_flow_no_pressure():
    air, gap, height = dry_air(30.0), 4e-3, 30e-3
    diameter = ducts.rectangular_duct(height, gap).hydraulic_diameter
    for re in (2300.0, 4000.0):
        edge = re * air.kinematic_viscosity / diameter
        below, above = (fins.gap_pressure_drop(edge * f, gap, height, 0.1, air).value for f in (1 - 1e-9, 1 + 1e-9))
        assert above == pytest.approx(below, rel=1e-6)
    assert fins.gap_pressure_drop(0.0, gap, height, 0.1, air).value == 0.0


def test_optimum_gap_of_natural_convection():
    # Bar-Cohen & Rohsenow (1984): S_opt = 2.714 P^(-1/4), Nu_opt 1.31 (from memory), where Elenbaas = P·S^4
    best = minimize_scalar(lambda s: -fins.nu_gap_bar_cohen(s**4) / s**2, bounds=(1.0, 5.0), method="bounded")
    assert best.x == pytest.approx(2.7155, abs=1e-3)
    assert fins.nu_gap_bar_cohen(best.x**4) == pytest.approx(1.308, abs=1e-3)


def test_wide_vertical_gap_tends_to_a_plate():
    # the wide limit of Bar-Cohen & Rohsenow is 0.59 Ra^(1/4) on the plate's height
    air = dry_air(42.5)
    ra = 9.80665 * air.expansion * 35.0 * 0.1**3 / (air.kinematic_viscosity * air.diffusivity)
    expected = 0.59 * ra**0.25 * air.conductivity / 0.1
    assert fins.natural_gap_film(60.0, 25.0, 0.05, 0.1) == pytest.approx(expected, rel=5e-3)
    assert fins.natural_gap_film(25.0, 25.0, 0.05, 0.1) == 0.0

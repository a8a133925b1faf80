"""Heat pipe limits against published worked examples; real wicks scatter by factors."""

import pytest

from thermsim.physics.heat_pipes import (
    capillary_limit,
    derated_capacity,
    effective_conductivity,
    effective_length,
    pore_radius_screen,
    pore_radius_sintered,
    porosity_screen,
    wick_conductivity_packed,
    wick_conductivity_screen,
    wick_conductivity_sintered,
    wick_permeability_screen,
    wick_permeability_sintered,
)

# saturated water at 60 °C (CoolProp); 6 mm pipe, wall 0.3, wick 0.6 mm, 60 µm spheres, porosity 0.45
WATER_60 = {
    "surface_tension": 0.06631,
    "latent_heat": 2.3577e6,
    "liquid_density": 983.16,
    "liquid_viscosity": 4.6602e-4,
    "vapour_density": 0.13043,
    "vapour_viscosity": 1.0854e-5,
}
PIPE = {
    "pore_radius": pore_radius_sintered(60e-6),
    "permeability": wick_permeability_sintered(60e-6, 0.45),
    "wick_area": 3.14159265 * (2.7e-3**2 - 2.1e-3**2),
    "effective_length": effective_length(30e-3, 90e-3, 30e-3),
}


def test_published_example_without_vapour_or_gravity():
    # a published worked example gives 7.5 kW
    limit = capillary_limit(
        surface_tension=0.07,
        pore_radius=31e-6,
        permeability=1e-9,
        wick_area=1e-4,
        latent_heat=2.5e6,
        liquid_density=1000.0,
        liquid_viscosity=1e-3,
        effective_length=0.15,
    )
    assert limit == pytest.approx(7526.9, rel=1e-5)


def test_copper_water_pipe():
    assert PIPE["permeability"] == pytest.approx(2.8919e-11, rel=1e-4, abs=0)
    assert PIPE["effective_length"] == pytest.approx(0.12)
    assert 2 * 0.06631 / PIPE["pore_radius"] == pytest.approx(5390.9, rel=1e-4)
    assert capillary_limit(**WATER_60, **PIPE) == pytest.approx(58.47, abs=0.01)
    assert capillary_limit(**WATER_60, **PIPE, vapour_radius=2.1e-3) == pytest.approx(58.12, abs=0.01)


def test_tilt():
    level = capillary_limit(**WATER_60, **PIPE)
    head = 983.16 * 9.80665 * 0.1
    raised = capillary_limit(**WATER_60, **PIPE, rise=0.1)
    assert raised == pytest.approx(level * (1 - head / 5390.9), rel=1e-4)
    assert capillary_limit(**WATER_60, **PIPE, rise=-0.1) > level
    assert capillary_limit(**WATER_60, **PIPE, rise=1.0) == 0.0


def test_sintered_wick_conductivity():
    # Maxwell's form; by hand for copper 390, water 0.65, porosity 0.45
    assert wick_conductivity_sintered(390.0, 0.65, 0.45) == pytest.approx(175.54, rel=1e-4)
    assert wick_conductivity_sintered(390.0, 0.65, 0.0) == pytest.approx(390.0)
    assert wick_conductivity_sintered(390.0, 0.65, 1.0) == pytest.approx(0.65)


def test_derating_is_a_factor_for_each_bend():
    # common practice, no source
    assert derated_capacity(50.0, 2) == pytest.approx(40.5)
    assert derated_capacity(50.0, 1, bend_factor=0.8, flattening_factor=0.5) == pytest.approx(20.0)


def test_screen_of_a_published_example():
    # #500 mesh of 0.02159 mm wire: porosity printed 0.65, conductivity 1.25 W/mK (by a metal wire and water of 0.6)
    wire, opening = 0.02159e-3, 25.4e-3 / 500 - 0.02159e-3
    porosity = porosity_screen(wire, opening)
    assert porosity == pytest.approx(0.6495, abs=5e-5)
    assert wick_conductivity_screen(390.0, 0.6, porosity) == pytest.approx(1.25, abs=0.01)
    # half the pitch of 50.8 µm; d² ε³/(122 (1 - ε)²) by hand
    assert pore_radius_screen(wire, opening) == pytest.approx(25.4e-6, rel=1e-9, abs=0)
    by_hand = 21.59e-6**2 * 0.6495**3 / (122 * 0.3505**2)
    assert wick_permeability_screen(wire, porosity) == pytest.approx(by_hand, rel=2e-3, abs=0)


def test_packed_spheres():
    # copper 390, water 0.65, porosity 0.45, by hand: Maxwell's form, liquid continuous
    assert wick_conductivity_packed(390.0, 0.65, 0.45) == pytest.approx(3.007, abs=5e-4)
    assert wick_conductivity_packed(390.0, 0.65, 1.0) == pytest.approx(0.65)
    assert wick_conductivity_packed(390.0, 0.65, 0.0) == pytest.approx(390.0)
    assert wick_conductivity_packed(390.0, 0.65, 0.45) < wick_conductivity_sintered(390.0, 0.65, 0.45)


def test_conductivity_of_the_rod_that_does_the_same():
    # 30 W over 0.12 m of 6 mm at 3 K, by hand
    assert effective_conductivity(30.0, 0.12, 3.14159265 * 3e-3**2, 3.0) == pytest.approx(42441, rel=1e-4)

"""Duct friction and heat transfer against Shah & London, Colebrook, Gnielinski, Graetz, worked channels."""

from math import pi

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import spsolve

from thermsim.physics import ducts
from thermsim.physics.coolants import coolant
from thermsim.physics.ranges import collect_ranges

# Shah & London, Laminar Flow Forced Convection in Ducts (1978): long/short, Darcy f·Re, Nu_T, Nu_H1
SHAH_LONDON = [
    (1.0, 56.908, 2.977, 3.608),
    (1.4, 58.259, 3.078, 3.734),
    (1 / 0.7, 58.43, 3.091, 3.750),
    (2.0, 62.192, 3.392, 4.123),
    (4.0, 72.931, 4.440, 5.331),
    (10.0, 84.68, 5.908, 6.785),
    (1e9, 96.0, 7.541, 8.235),
]


@pytest.mark.parametrize(("ratio", "f_re", "nu_t", "nu_h1"), SHAH_LONDON)
def test_rectangular_duct_constants(ratio, f_re, nu_t, nu_h1):
    assert ducts.f_re_rectangular_shah_london(1 / ratio) == pytest.approx(f_re, rel=1e-3)
    assert ducts.nu_t_rectangular_shah_london(1 / ratio) == pytest.approx(nu_t, rel=3e-3)
    assert ducts.nu_h1_rectangular_shah_london(1 / ratio) == pytest.approx(nu_h1, rel=3e-3)


def duct_nusselt(width, depth, adiabatic_lid, cells=48):
    """Laminar Nu (H1) of a rectangle by finite volumes; the lid is one wall of length `width`."""
    dx, dy = width / cells, depth / cells

    def operator(lid_weight):
        def second(step, last):
            main = np.full(cells, -2.0)
            main[0], main[-1] = -3.0, -1.0 - last
            return sp.diags([np.ones(cells - 1), main, np.ones(cells - 1)], [-1, 0, 1]) / step**2

        x, y = second(dx, 2.0), second(dy, lid_weight)
        return (sp.kron(sp.eye(cells), x) + sp.kron(y, sp.eye(cells))).tocsc()

    speed = spsolve(operator(2.0), -np.ones(cells**2))
    speed /= speed.mean()
    theta = spsolve(operator(0.0 if adiabatic_lid else 2.0), -speed)  # wall at 0, heat spread as ρ·cp·u·dT/dx
    heated = 2.0 * (width + depth) - (width if adiabatic_lid else 0.0)
    flux = width * depth / heated
    diameter = 2.0 * width * depth / (width + depth)
    return flux * diameter / (speed * theta).mean()


@pytest.mark.parametrize(
    ("width", "depth"), [(1.0, 1.0), (2.0, 1.0), (4.0, 1.0), (1.0, 2.0), (1.0, 4.0), (8.0, 1.0), (1.0, 8.0)]
)
def test_three_heated_walls_against_a_finite_volume_solution(width, depth):
    four = duct_nusselt(width, depth, adiabatic_lid=False)
    three = duct_nusselt(width, depth, adiabatic_lid=True)
    aspect = min(width, depth) / max(width, depth)
    assert four == pytest.approx(ducts.nu_h1_rectangular_shah_london(aspect), rel=5e-3)
    assert ducts.three_wall_ratio(width, depth) == pytest.approx(three / four, rel=5e-3)


@pytest.mark.parametrize(("width", "depth"), [(3.0, 1.0), (1.0, 3.0), (16.0, 1.0), (1.0, 16.0)])
def test_three_heated_walls_between_the_table_points(width, depth):
    computed = duct_nusselt(width, depth, True) / duct_nusselt(width, depth, False)
    assert ducts.three_wall_ratio(width, depth) == pytest.approx(computed, rel=0.025)


def test_three_wall_duct_keeps_its_geometry():
    four, three = ducts.rectangular_duct(6e-3, 3e-3), ducts.rectangular_duct(6e-3, 3e-3, heated_walls=3)
    assert (three.area, three.hydraulic_diameter, three.wetted_perimeter) == pytest.approx((18e-6, 4e-3, 18e-3))
    assert three.heated_perimeter == pytest.approx(12e-3)
    assert three.laminar_nu / four.laminar_nu == pytest.approx(3.140 / 4.124)
    assert "no published value" in three.label
    assert ducts.three_wall_ratio(1.0, 1e6) == pytest.approx(1.0, rel=1e-4)
    assert ducts.three_wall_ratio(0.999999, 1.0) == pytest.approx(3.569 / 3.608, rel=1e-4)
    assert ducts.three_wall_ratio(1e6, 1.0) == pytest.approx(5.385 / 8.235, rel=1e-4)  # Shah & London, plates
    with pytest.raises(ValueError, match="3 or 4 walls"):
        ducts.rectangular_duct(1.0, 1.0, heated_walls=2)


def test_round_duct():
    duct = ducts.round_duct(6e-3)
    assert (duct.laminar_f_re, duct.laminar_nu) == (64.0, 3.657)
    assert duct.area == pytest.approx(pi * 9e-6)
    assert 4 * duct.area / duct.wetted_perimeter == pytest.approx(duct.hydraulic_diameter)


@pytest.mark.parametrize(
    ("re", "pr", "nu"),
    [
        (1e4, 0.71, 30.0278),
        (1e4, 7.0, 79.4926),
        (5e4, 5.0, 285.173),
        (4000, 6.0, 30.0385),
        (3000, 0.7, 10.0013),
    ],
)
def test_gnielinski(re, pr, nu):
    # by hand with f = (0.79 ln Re - 1.64)^-2, Incropera & DeWitt equations 8.21 and 8.62
    assert ducts.nusselt_gnielinski(re, pr) == pytest.approx(nu, rel=1e-5)


@pytest.mark.parametrize(
    ("re", "roughness", "friction"),
    [(1e5, 1e-4, 0.0185139), (1e5, 2e-4, 0.0190054), (4e4, 0.0, 0.0219700), (2e4, 0.0, 0.0258831)],
)
def test_turbulent_friction_solves_colebrook(re, roughness, friction):
    # Moody's chart: 0.0185, 0.0190, 0.0220, 0.0259
    value = ducts.friction_factor(re, relative_roughness=roughness)
    assert value.value == pytest.approx(friction, rel=1e-5)
    assert (value.name, value.regime) == ("Colebrook", "turbulent")
    inverse_root = -2.0 * np.log10(roughness / 3.7 + 2.51 / (re * value.value**0.5))
    assert value.value == pytest.approx(inverse_root**-2, rel=1e-4)


def test_regimes_are_named():
    names = [ducts.regime(re) for re in (0.0, 1799.0, 1801.0, 2299.0, 2301.0, 3999.0, 4001.0)]
    assert names == ["laminar"] * 2 + ["near transition"] * 2 + ["transitional"] * 2 + ["turbulent"]
    assert ducts.friction_factor(3000.0).regime == ducts.nusselt(3000.0, 6.0, 3.657).regime == "transitional"
    assert ducts.nusselt(1e4, 6.0, 3.657).regime == "turbulent"


@pytest.mark.parametrize("edge", [2300.0, 4000.0])
def test_no_jump_at_the_edges_of_the_transition(edge):
    for function in (
        lambda re: ducts.friction_factor(re, 62.2, 1e-3).value,
        lambda re: ducts.nusselt(re, 6.0, 3.39, 0.02).value,
    ):
        below, above = function(edge * (1 - 1e-9)), function(edge * (1 + 1e-9))
        assert above == pytest.approx(below, rel=1e-6)


def test_transition_is_linear_in_re_after_gnielinski_2013():
    low = ducts.nusselt(2300.0, 6.0, 3.657).value
    high = ducts.nusselt(4000.0, 6.0, 3.657).value
    assert ducts.nusselt(3150.0, 6.0, 3.657).value == pytest.approx(0.5 * (low + high))
    assert (low, high) == pytest.approx((3.657, 30.0385), rel=1e-5)


@pytest.mark.parametrize("laminar_f_re", [56.9, 64.0, 96.0])
def test_pressure_drop_rises_with_flow_through_the_transition(laminar_f_re):
    re = np.linspace(10.0, 1e4, 2000)
    heads = np.array([ducts.friction_factor(value, laminar_f_re).value * value**2 for value in re])
    assert (np.diff(heads) > 0.0).all()


def test_at_rest():
    assert ducts.friction_factor(0.0).value == 0.0
    assert ducts.nusselt(0.0, 6.0, 3.39, 0.02).value == 3.39
    assert ducts.pressure_drop(ducts.round_duct(4e-3), 1.0, 0.0, 1000.0, 1e-3) == 0.0


@pytest.mark.parametrize(
    ("x", "exact", "error"),
    [(0.005, 8.943, 0.05), (0.01, 7.155, 0.02), (0.05, 4.641, 0.04), (0.1, 4.156, 0.03), (1, 3.707, 0.01)],
)
def test_thermal_entry_against_graetz(x, exact, error):
    # mean Nu of the Graetz problem, tube at uniform temperature, eigenfunction solution; x = L/(D·Re·Pr)
    assert ducts.nusselt(1000.0, 5.0, 3.657, 1 / (5000.0 * x)).value == pytest.approx(exact, rel=error)


def test_hausen_at_graetz_number_100():
    # by hand: 3.66 + 0.0668·100/(1 + 0.04·100^(2/3))
    assert ducts.nusselt(1000.0, 5.0, 3.66, 0.02).value == pytest.approx(7.248, abs=5e-4)


def test_worked_cold_plate_channel():
    # 3 x 6 mm, 0.3 m, water at 25 °C, 0.3 L/min, by hand with Shah & London's constants
    water, duct = coolant("water").at(25.0), ducts.rectangular_duct(6e-3, 3e-3)
    flow = 0.3e-3 / 60.0
    re = ducts.reynolds(duct, flow, water.density, water.viscosity)
    assert re == pytest.approx(1244.73, rel=1e-4)
    drop = ducts.pressure_drop(duct, 0.3, flow, water.density, water.viscosity)
    assert drop == pytest.approx(144.15, rel=1e-3)
    per_nu = water.conductivity / duct.hydraulic_diameter
    assert duct.laminar_nu * per_nu == pytest.approx(514.4, rel=3e-3)
    assert ducts.nu_h1_rectangular_shah_london(0.5) * per_nu == pytest.approx(625.2, rel=3e-3)
    # the thermal entry length, 0.05·Re·Pr·D = 1.53 m, is five times the channel: entry must raise the film
    assert 0.05 * re * water.prandtl * duct.hydraulic_diameter == pytest.approx(1.53, abs=0.01)
    assert ducts.nusselt(re, water.prandtl, duct.laminar_nu, 4e-3 / 0.3).value > 1.5 * duct.laminar_nu


def test_hagen_poiseuille_only_below_transition():
    # water 25 °C, 4 mm x 1 m, Hagen-Poiseuille by hand: it holds at 0.25 L/min, not at 0.5 L/min (Re 2971)
    water, duct = coolant("water").at(25.0), ducts.round_duct(4e-3)
    slow, fast = (
        ducts.pressure_drop(duct, 1.0, flow * 1e-3 / 60.0, water.density, water.viscosity) for flow in (0.25, 0.5)
    )
    assert slow == pytest.approx(590.2, rel=1e-3)
    assert ducts.reynolds(duct, 0.5e-3 / 60.0, water.density, water.viscosity) == pytest.approx(2971, rel=1e-3)
    assert fast > 1.3 * 1180.4


def test_smooth_round_tube_unless_said_otherwise():
    # Hagen-Poiseuille 64/Re; Moody's smooth 0.0180 at Re 1e5
    assert ducts.friction_factor(0.5).value == pytest.approx(128.0)
    assert ducts.friction_factor(1000.0).value == pytest.approx(0.064)
    assert ducts.friction_factor(1e5).value == pytest.approx(0.0180, abs=5e-5)
    smooth = ducts.pressure_drop(ducts.round_duct(0.1), 1.0, np.pi * 0.0025, 1.0, 1e-6)
    assert smooth == pytest.approx(0.5 * 0.0180 / 0.1, rel=3e-3)


def test_reverse_flow_reverses_the_pressure():
    duct = ducts.round_duct(4e-3)
    forward, back = (ducts.pressure_drop(duct, 1.0, flow, 1000.0, 1e-3) for flow in (1e-5, -1e-5))
    assert back == pytest.approx(-forward)


def test_reynolds_of_incropera_example_8_4():
    # Incropera & DeWitt, 6th ed., example 8.4: 0.01 kg/s of water at 80 °C in a 60 mm tube, Re 603
    water = coolant("water").at(80.0)
    re = ducts.reynolds(ducts.round_duct(0.06), 0.01 / water.density, water.density, water.viscosity)
    assert re == pytest.approx(602.9, rel=0.01)


def test_prandtl_out_of_range_is_noted():
    with collect_ranges() as notes:
        ducts.nusselt(1e4, 0.02, 3.657)
    assert list(notes) == ["Gnielinski: Pr 0.02 is outside 0.5 to 2000"]


def test_entry_lengths_of_a_cold_plate_groove():
    # 3 x 6 mm, 0.3 L/min of water at 25 °C: 0.05·Re·Pr·D = 1.53 m, far longer than a 0.3 m groove
    velocity, thermal = ducts.entry_lengths(1244.73, 6.136, 4e-3)
    assert thermal == pytest.approx(1.53, abs=0.005)
    assert velocity == pytest.approx(0.249, abs=0.001)
    assert ducts.entry_lengths(1e4, 6.0, 4e-3) == (0.04, 0.04)

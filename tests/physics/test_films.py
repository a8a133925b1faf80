"""Surface films against worked textbook examples and closed forms."""

import numpy as np
import pytest

from thermsim.physics import films
from thermsim.physics.air import AirState, dry_air
from thermsim.physics.ranges import collect_ranges


def rayleigh(length, difference, beta, nu, alpha, g=9.80665):
    return g * beta * difference * length**3 / (nu * alpha)


def test_vertical_plate_incropera_example_9_2():
    # Incropera & DeWitt, 6th ed., example 9.2: 0.71 x 1.02 m, 232 and 23 °C, given properties; 1060 W
    ra = rayleigh(0.71, 209.0, 0.0025, 26.4e-6, 38.3e-6)
    nu = films.nu_vertical_churchill_chu(ra, 0.69)
    assert nu == pytest.approx(147.15, rel=1e-4)
    assert nu * 0.0338 / 0.71 * 0.71 * 1.02 * 209.0 == pytest.approx(1060.3, rel=1e-4)
    # with our own air, at the film temperature
    assert films.natural_vertical_churchill_chu(232.0, 23.0, 0.71) == pytest.approx(7.0, rel=0.02)


def test_small_vertical_plate():
    # by hand with CoolProp's air at the film temperature, 0.1 m, 60 and 25 °C: Ra 2.5808e6
    assert films.natural_vertical_churchill_chu(60.0, 25.0, 0.1) == pytest.approx(5.884, rel=1e-3)
    # trade rule for small plates, 1.42 (ΔT/L)^(1/4)
    assert films.natural_vertical_churchill_chu(60.0, 25.0, 0.1) == pytest.approx(1.42 * 350**0.25, rel=0.06)


def test_horizontal_faces_of_incropera_example_9_3():
    # Incropera & DeWitt, 6th ed., example 9.3: duct 0.75 m wide, 45 and 15 °C, given properties
    ra = rayleigh(0.375, 30.0, 0.0033, 16.2e-6, 22.9e-6)
    assert films.nu_horizontal_up_mcadams(ra) * 0.0265 / 0.375 == pytest.approx(5.478, rel=2e-3)
    assert films.nu_horizontal_down_mcadams(ra) * 0.0265 / 0.375 == pytest.approx(2.068, rel=2e-3)


def test_small_horizontal_plate():
    # 150 x 100 mm, A/P 30 mm, 60 and 25 °C, by hand with CoolProp's air: Ra 6.968e4
    assert films.natural_film("up", 60.0, 25.0, 0.03) == pytest.approx(8.053, rel=1e-3)
    assert films.natural_film("down", 60.0, 25.0, 0.03) == pytest.approx(4.027, rel=1e-3)


def test_horizontal_plate_against_ht():
    from ht import Nu_free_horizontal_plate

    for ra in (1e5, 3e6, 1e8, 1e10):
        library = Nu_free_horizontal_plate(0.7, ra / 0.7, True, Method="McAdams")
        assert films.nu_horizontal_up_mcadams(ra) == pytest.approx(library, rel=1e-6)
    assert films.nu_horizontal_down_mcadams(1e6) == pytest.approx(
        Nu_free_horizontal_plate(0.7, 1e6 / 0.7, False, Method="McAdams"), rel=1e-6
    )


def test_horizontal_plate_has_no_jump():
    ra = np.geomspace(1e6, 1e8, 20001)
    nu = films.nu_horizontal_up_mcadams(ra)
    assert (np.diff(nu) / nu[1:]).max() < 1e-3


def test_a_cold_face_up_is_a_hot_face_down():
    hot, cold = np.array([60.0]), np.array([-10.0])
    # McAdams: 0.54 Ra^(1/4) on the free side, 0.27 on the other
    assert films.natural_film("up", 60.0, 25.0, 0.03) == pytest.approx(2 * films.natural_film("down", 60.0, 25.0, 0.03))
    assert films.natural_film("down", -10.0, 25.0, 0.03) == pytest.approx(
        2 * films.natural_film("up", -10.0, 25.0, 0.03)
    )
    both = films.natural_film("up", np.concatenate([hot, cold]), 25.0, 0.03)
    assert both == pytest.approx([films.natural_film("up", t, 25.0, 0.03) for t in (60.0, -10.0)])
    with pytest.raises(ValueError, match="orientation"):
        films.natural_film("sideways", 60.0, 25.0, 0.03)


def test_no_difference_is_harmless():
    assert films.natural_film("up", 25.0, 25.0, 0.03) == 0.0
    assert films.natural_film("vertical", 25.0, 25.0, 0.1) > 0.0  # conduction


def test_thin_air_cools_less():
    # Ra goes as density²: h as density^(1/2) on a small plate facing up
    ratio = films.natural_film("up", 60.0, 25.0, 0.03, 50662.5) / films.natural_film("up", 60.0, 25.0, 0.03)
    assert ratio == pytest.approx(0.5**0.5, rel=1e-6)


def test_rayleigh_out_of_range_is_noted():
    with collect_ranges() as notes:
        films.nu_vertical_churchill_chu(1e13, 0.7)
        films.nu_horizontal_up_mcadams(1e12)
        films.nu_horizontal_down_mcadams(1e11)
    assert len(notes) == 3


def test_flat_plate_incropera_example_7_1():
    # Incropera & DeWitt, 6th ed., example 7.1 (from memory): 10 m/s over 0.5 m at 6 kPa, 570 W/m for 273 K
    air = AirState(1.0, 0.687 * 0.0364 / 5.21e-4, 5.21e-4, 0.0364, 164.0)
    film = films.flat_plate(10.0, 0.5, air)
    assert film.value == pytest.approx(4.1785, rel=1e-4)
    assert film.value * 0.5 * 273.0 == pytest.approx(570.4, rel=1e-3)
    assert film.regime == "laminar"


def test_flat_plate_of_electronics():
    # 3 m/s over 0.15 m at 45 °C film, by hand; the trade rule 3.9 (U/L)^(1/2) gives 17.44
    assert films.flat_plate(3.0, 0.15, dry_air(45.0)).value == pytest.approx(17.520, rel=1e-3)


def test_mixed_flat_plate():
    # Incropera & DeWitt equation 7.38, (0.037 Re^0.8 - 871) Pr^(1/3), at Re 1e6
    air = dry_air(30.0)
    velocity = 1e6 * air.kinematic_viscosity
    nu = films.flat_plate(velocity, 1.0, air).value / air.conductivity
    assert nu == pytest.approx((0.037 * 1e6**0.8 - 871.0) * air.prandtl ** (1 / 3), rel=1e-3)
    edge = 5e5 * air.kinematic_viscosity
    below, above = (
        films.flat_plate(edge * (1 - 1e-9), 1.0, air),
        films.flat_plate(edge * (1 + 1e-9), 1.0, air),
    )
    assert above.value == pytest.approx(below.value, rel=1e-6)
    assert above.regime == "turbulent"


def test_passage_between_board_and_lid_tends_to_parallel_plates():
    # Shah & London: Nu_T 7.541 on twice the gap
    air = dry_air(30.0)
    film = films.duct_film(0.01, 2e-3, 2.0, 1e3, air)
    diameter = 2 * 2e-3 * 2.0 / 2.002
    assert film.value == pytest.approx(7.541 * air.conductivity / diameter, rel=5e-3)


def test_passage_follows_incropera_example_8_6():
    # Incropera & DeWitt, 6th ed., example 8.6: 0.15 m round duct, Re 20 385, h 11.6 by Dittus-Boelter
    # with k 0.030; a square passage of the same hydraulic diameter by Gnielinski, 10 % apart
    air = AirState(1.0, 1010.0, 208.2e-7, 0.030, 77.0)
    film = films.duct_film(20385 * 208.2e-7 / 0.15, 0.15, 0.15, 5.0, air)
    assert film.value == pytest.approx(11.581, rel=0.10)


def test_mixed_convection():
    assert films.mixed(2.0, 0.0) == pytest.approx(2.0)
    assert films.mixed(3.0, 3.0) == pytest.approx(3.0 * 2 ** (1 / 3))
    assert films.mixed(np.array([1.0, 2.0]), np.array([2.0, 1.0])) == pytest.approx(9 ** (1 / 3))


def test_radiation():
    # 4 σ T³ at 300 K; 60 to 25 °C at emissivity 0.9 by hand
    assert films.radiation_coefficient(1.0, 26.85, 26.85) == pytest.approx(6.1240, rel=1e-4)
    assert films.radiation_coefficient(0.9, 60.0, 25.0) == pytest.approx(6.4397, rel=1e-4)
    # Incropera & DeWitt, 6th ed., example 1.2: bare pipe 70 mm, 200 °C, emissivity 0.8, h 15: 998 W/m
    loss = (15.0 + films.radiation_coefficient(0.8, 200.0, 25.0)) * np.pi * 0.07 * 175.0
    assert loss == pytest.approx(997.9, rel=1e-3)
    array = films.radiation_coefficient(0.9, np.array([60.0, 25.0]), np.array([25.0, 60.0]))
    assert array == pytest.approx(6.4397, rel=1e-4)


def test_parallel_plates_of_emissivity():
    # Incropera & DeWitt equation 13.19
    assert films.two_surface_emissivity(0.8, 0.5) == pytest.approx(1 / (1.25 + 2 - 1))
    assert films.two_surface_emissivity(1.0, 0.3) == pytest.approx(0.3)
    assert films.two_surface_emissivity(0.0, 0.9) == films.two_surface_emissivity(0.9, 0.0) == 0.0

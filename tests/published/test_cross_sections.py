"""Steady conduction in cross-sections: a sheet 1 m thick whose faces are adiabatic."""

import numpy as np
import pytest
from published_cases import at, field, film, held, leaving, model_of, node, rectangle, sheet

from thermsim.solve.steady import solve_steady

# ISO 10211:2007 annex A.1, case 1 (half of a square column), with the decimals of its Fourier series
ISO_10211_CASE_1 = [
    [9.6582, 13.3791, 14.7289, 15.0854],
    [5.2517, 8.6406, 10.3155, 10.8106],
    [3.1887, 5.6090, 7.0142, 7.4651],
    [2.0142, 3.6406, 4.6582, 5.0000],
    [1.2625, 2.3086, 2.9858, 3.2185],
    [0.7396, 1.3594, 1.7668, 1.9083],
    [0.3418, 0.6296, 0.8199, 0.8863],
]


def test_iso_10211_case_1_square_column():
    model = model_of(
        cell=1 / 96,
        sheet={"s": sheet(1, 2, 1, 1)},
        edge={"top": held("back", 20), "left": held("left", 0), "bottom": held("front", 0)},
    )
    steady = solve_steady(model)
    x, down = np.meshgrid(np.arange(1, 5) / 4, np.arange(1, 8) / 4)
    found = at(model, steady.temperature, x, 2 - down)
    assert found == pytest.approx(np.array(ISO_10211_CASE_1), abs=0.02)


def test_nafems_t2_bar_that_radiates_at_its_end():
    # Cameron, Casey & Simpson, NAFEMS Benchmark Tests for Thermal Analysis (1986), test T2: 927.0 K
    model = model_of(
        cell=0.01,
        sheet={"s": sheet(0.1, 0.01, 1, 55.6)},
        edge={
            "a": {"on": "sheet.s", "side": "left", "temperature": "1000 K"},
            "b": {"on": "sheet.s", "side": "right", "emissivity": 0.98, "air": "300 K"},
        },
    )
    steady = solve_steady(model)
    assert steady.temperature[node(model, "edge.b rim")] + 273.15 == pytest.approx(927.004, abs=0.01)


def test_composite_wall_with_generation():
    # Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 6th ed., example 3.7: 140, 115, 105 °C
    wall_b = {"b": {**rectangle(0.05, 0, 0.02, 0.001), "conductivity": "150 W/mK"}}
    model = model_of(
        cell=0.0005,
        sheet={"s": sheet(0.07, 0.001, 1, 75, patch=wall_b)},
        source={"heating": {"on": "sheet.s", **rectangle(0, 0, 0.05, 0.001), "density": "1.5 MW/m3"}},
        edge={"water": {"on": "sheet.s", "side": "right", "h": "1000 W/m2K", "air": "30 degC"}},
    )
    steady = solve_steady(model)
    row = field(model, steady.temperature)[0]
    assert row[0] == pytest.approx(140, abs=0.01)
    assert 1.5 * row[100] - 0.5 * row[101] == pytest.approx(115, abs=0.01)  # linear in the second layer
    assert steady.temperature[model.numbers("edge.water rim")] == pytest.approx(105, abs=1e-6)
    assert leaving(model, steady)["edge.water"] == pytest.approx(75.0, rel=1e-9)  # 1.5 MW/m³ × 5e-5 m³


@pytest.mark.parametrize(
    ("kx", "ky", "centre"),
    [(4, 1, 5.4885), (1, 4, 44.5115), (1, 1, 25.0), (0.25, 1, 44.5115)],
)
def test_orthotropic_square(kx, ky, centre):
    # Fourier series sinh(π c n/2)/sinh(π c n) with c = √(kx/ky), Carslaw & Jaeger, Conduction of Heat in
    # Solids
    model = model_of(
        cell=1 / 60,
        sheet={"s": sheet(1, 1, 1, kx, conductivity_y=f"{ky} W/mK")},
        edge={
            "hot": held("back", 100), "l": held("left", 0), "r": held("right", 0), "f": held("front", 0),
        },
    )  # fmt: skip
    found = at(model, solve_steady(model).temperature, 0.5, 0.5)
    assert found == pytest.approx(centre, abs=0.01)


def test_turning_an_orthotropic_square_turns_its_field():
    def solved(kx, ky, hot):
        sides = {side: held(side, 100 if side == hot else 0) for side in ("left", "right", "front", "back")}
        model = model_of(cell=0.05, sheet={"s": sheet(1, 1, 1, kx, conductivity_y=f"{ky} W/mK")}, edge=sides)
        return field(model, solve_steady(model).temperature)

    assert solved(7, 2, "back") == pytest.approx(solved(2, 7, "right").T, abs=1e-9)


def test_edge_held_on_half_its_length():
    # Rayleigh's monotony: the unit square between two whole edges conducts 1; holding only half of one edge
    # conducts less, and more than the half square that an adiabatic cut would leave
    model = model_of(
        cell=0.02,
        sheet={"s": sheet(1, 1, 1, 1)},
        edge={"hot": held("left", 1), "cold": held("right", 0, stretch="0 m, 0.5 m")},
    )
    out = leaving(model, solve_steady(model))
    assert out["edge.cold"] == pytest.approx(-out["edge.hot"], rel=1e-9)
    assert 0.5 < out["edge.cold"] < 1.0


def test_series_wall_through_films_and_a_joint():
    # resistances in series, Incropera & DeWitt section 3.1: h 10 | 2 mm k 167 | paste 100 µm k 1 | 1.6 mm k
    # 0.3 | h 25 gives U = 6.87544 W/m²K
    model = model_of(
        cell=0.1,
        sheet={
            "plate": sheet(0.1, 0.1, 0.002, 167, conductivity_through="167 W/mK"),
            "board": sheet(0.1, 0.1, 0.0016, 20, conductivity_through="0.3 W/mK"),
        },
        joint={
            "paste": {
                "between": ["sheet.plate", "sheet.board"],
                "bond_line": "100 um",
                "conductivity": "1 W/mK",
            }
        },
        film={
            "hot": film(10, "sheet.plate", air="100 degC"),
            "cold": film(25, "sheet.board", air="0 degC", face="bottom"),
        },
    )
    out = leaving(model, solve_steady(model))
    assert out["film.cold"] == pytest.approx(6.87544 * 0.01 * 100, rel=1e-6)


def test_thicker_patch_and_cutout():
    # resistances in series and side by side: 0.1 m of k t = 1 W/K, then 0.1 m twice as thick but half cut
    # away
    model = model_of(
        cell=0.01,
        sheet={"s": sheet(
            0.2, 0.04, 0.01, 100,
            patch={"thick": {**rectangle(0.1, 0, 0.1, 0.04), "thickness": "0.02 m"}},
            cutout={"slot": rectangle(0, 0.02, 0.1, 0.02)},
        )},
        edge={"hot": held("left", 1), "cold": held("right", 0)},
    )  # fmt: skip
    watts = leaving(model, solve_steady(model))["edge.cold"]
    # without spreading at the seam (an upper bound), and with it taken as one more square (a lower bound)
    assert 0.04 / (0.2 + 0.1 / 2 + 0.04) * 1 < watts < 0.04 / (0.2 + 0.1 / 2)


def test_wall_joins_the_rims_of_two_sheets():
    # three strips in series round a corner: lid, wall and floor, 100 + 50 + 100 mm of 2 mm, k 100, 0.02 m
    # wide
    stuff = {"conductivity": "100 W/mK", "density": "2000 kg/m3", "cp": "1000 J/kgK", "source": "stated"}
    model = model_of(
        cell=0.01,
        material={"metal": stuff},
        sheet={name: sheet(0.1, 0.02, 0.002, 100) for name in ("lid", "floor")},
        wall={"right": {
            "side": "right", "size": "20 x 50 mm", "thickness": "2 mm", "material": "metal",
            "joins": ["sheet.lid", "sheet.floor"],
        }},
        edge={"hot": held("left", 10, "sheet.lid"), "cold": held("left", 0, "sheet.floor")},
    )  # fmt: skip
    steady = solve_steady(model)
    assert leaving(model, steady)["edge.cold"] == pytest.approx(100 * 0.002 * 0.02 * 10 / 0.25, rel=1e-9)
    assert steady.temperature[node(model, "wall.right")] == pytest.approx(5, abs=1e-9)


def test_box_loses_heat_on_all_its_faces():
    # of one temperature when its films are weak: P/(h A) with A = 2(ab + bc + ca), the box's own size
    model = model_of(
        cell=0.02,
        box={
            "corner": "0, 0 mm", "size": "200 x 100 x 50 mm", "thickness": "3 mm", "material": "copper",
            "outside": {"law": "fixed", "h": "1 W/m2K"},
        },
        source={"inside": {"on": "sheet.floor", "watts": "0.7 W"}},
    )  # fmt: skip
    assert solve_steady(model).temperature == pytest.approx(0.7 / 0.07, rel=5e-3)

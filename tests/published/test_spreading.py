"""Steady spreading in sheets cooled on their faces: fins, patches, discs, coupled sheets."""

from math import asin, pi, sqrt

import numpy as np
import pytest
from published_cases import at, field, film, held, leaving, model_of, rectangle, sheet

from thermsim.solve.steady import solve_steady

BOARD = sheet(0.16, 0.1, 0.0016, 20)  # 0.032 W/K in plane


@pytest.mark.parametrize(("tip", "watts", "tip_rise"), [({}, 9.2864, 29.0101), (25, 9.3281, 28.7533)])
def test_straight_fin(tip, watts, tip_rise):
    # Incropera & DeWitt, 6th ed., table 3.4: q = M tanh mL, and the convective tip; mL = 1.14018
    cooled = {name: {"on": "sheet.s", "side": name, "h": "25 W/m2K"} for name in ("front", "back")}
    if tip:
        cooled["right"] = {"on": "sheet.s", "side": "right", "h": f"{tip} W/m2K"}
    model = model_of(
        cell=0.001,
        sheet={"s": sheet(0.1, 0.05, 0.002, 200)},
        film={"top": film(25), "bottom": film(25, face="bottom")},
        edge={"base": held("left", 50), **cooled},
    )
    steady = solve_steady(model)
    assert -leaving(model, steady)["edge.base"] == pytest.approx(watts, rel=1e-3)
    end = steady.temperature[model.numbers("edge.right rim")] if tip else field(model, steady.temperature)[:, -1]
    assert end.mean() == pytest.approx(tip_rise, rel=1e-3)


def test_sheet_strip_as_a_fin():
    # m = √(2h/kt) = 11.1803 1/m; 180.4247 W/m, tip 29.5355 K (closed form, as above without the narrow edges)
    model = model_of(
        cell=0.0005,
        sheet={"s": sheet(0.1, 0.0005, 0.002, 200)},
        film={"top": film(25), "bottom": film(25, face="bottom")},
        edge={"base": held("left", 50)},
    )
    steady = solve_steady(model)
    assert -leaving(model, steady)["edge.base"] / 0.0005 == pytest.approx(180.4247, rel=1e-4)
    assert field(model, steady.temperature)[0, -1] == pytest.approx(29.5355, rel=1e-4)


@pytest.mark.parametrize(("k", "watts"), [(398, 8.310), (180, 5.588), (14, 1.558)])
def test_infinite_rods(k, watts):
    # Incropera & DeWitt, 6th ed., example 3.9: rods of 5 mm, h 100, 100 °C into air at 25 °C: 8.3, 5.6, 1.6
    # W. A strip of the same cross-section and perimeter: two faces π·D/2 wide, D/2 thick.
    width = pi * 0.005 / 2
    model = model_of(
        cell=0.001,
        room=25,
        sheet={"s": sheet(0.6, width, 0.0025, k)},
        film={"top": film(100), "bottom": film(100, face="bottom")},
        edge={"base": held("left", 100)},
    )
    assert -leaving(model, solve_steady(model))["edge.base"] == pytest.approx(watts, rel=2e-3)


def test_centred_patch_on_a_board():
    # double cosine series with 2000² terms (method of images; any text on Fourier series): rises in K
    model = model_of(
        cell=0.001,
        sheet={"s": BOARD},
        film={"both": film(20)},
        source={"chip": {"on": "sheet.s", **rectangle(0.07, 0.04, 0.02, 0.02), "watts": "10 W"}},
    )
    steady = solve_steady(model)
    cells = field(model, steady.temperature)
    assert cells.max() == pytest.approx(103.392, rel=3e-3)
    assert cells[40:60, 70:90].mean() == pytest.approx(91.688, rel=2e-3)
    assert cells[0, 0] == pytest.approx(16.997, rel=1e-3)
    assert cells.mean() == pytest.approx(10 / (20 * 0.016), rel=1e-9)  # first law


def test_disc_source_in_a_wide_sheet():
    # q/h·[1 − ma·K1(ma)·I0(mr)] inside, q/h·ma·I1(ma)·K0(mr) outside; m = 20.4124 1/m, disc of 10 mm
    # (Carslaw & Jaeger, Conduction of Heat in Solids; Incropera & DeWitt section 3.6 for the equation)
    quarter, rows, radius = 0.2, 10, 0.01
    edges = np.linspace(0, radius, rows + 1)
    primitive = [(y * sqrt(radius**2 - y**2) + radius**2 * asin(y / radius)) / 2 for y in edges]
    strips = np.diff(primitive)  # exact areas of the quarter disc in rows of 1 mm
    sources = {
        f"row {n}": {
            "on": "sheet.s", **rectangle(0, edges[n], area / (radius / rows), radius / rows),
            "watts": f"{10 * area / (pi * radius**2)} W",
        }
        for n, area in enumerate(strips)
    }  # fmt: skip
    model = model_of(
        cell=0.0015, sheet={"s": sheet(quarter, quarter, 0.0016, 30)}, film={"both": film(20)}, source=sources
    )
    found = solve_steady(model).temperature
    assert found.max() == pytest.approx(73.6217, rel=5e-3)
    across = at(model, found, [0.03, 0.05], 0.0)
    assert across == pytest.approx(np.array([25.3852, 13.6263]), rel=5e-3)


def test_strip_source_in_a_wide_sheet():
    # q/h·(1 − e^(−ma) cosh mx) inside, q/h·sinh(ma)·e^(−mx) outside; m = 20.4124 1/m, half-width 10 mm
    model = model_of(
        cell=0.0005,
        sheet={"s": sheet(0.6, 0.0005, 0.0016, 30)},
        film={"both": film(20)},
        source={"half": {"on": "sheet.s", **rectangle(0, 0, 0.01, 0.0005), "flux": "2000 W/m2"}},
    )
    found = solve_steady(model).temperature
    assert at(model, found, [0.00025, 0.01, 0.04], 0) == pytest.approx(np.array([18.4639, 16.7593, 9.0846]), rel=3e-4)


def test_two_coupled_sheets():
    # cosine modes of the two coupled equations, by hand; sheet 2 is the hotter one far from the source
    strip = {"size": "0.2 x 0.001 m"}
    model = model_of(
        cell=0.001,
        sheet={"one": sheet(0.2, 0.001, 0.001, 40, **strip), "two": sheet(0.2, 0.001, 0.001, 800, **strip)},
        joint={"glue": {"between": ["sheet.one", "sheet.two"], "conductance": "250 W/m2K"}},
        film={"one": film(12, "sheet.one"), "two": film(30, "sheet.two")},
        source={"heater": {"on": "sheet.one", **rectangle(0, 0, 0.04, 0.001), "flux": "4000 W/m2"}},
    )
    steady = solve_steady(model)
    x = [0.0005, 0.04, 0.1, 0.1995]
    one, two = (at(model, steady.temperature, x, 0, f"sheet.{name}") for name in ("one", "two"))
    assert one == pytest.approx(np.array([38.5668, 29.5349, 16.7105, 13.2438]), rel=2e-3)
    assert two == pytest.approx(np.array([25.4838, 23.1373, 17.3273, 13.7745]), rel=2e-3)
    assert field(model, steady.temperature, "sheet.one").mean() == pytest.approx(20.6262, rel=1e-4)
    assert field(model, steady.temperature, "sheet.two").mean() == pytest.approx(18.4162, rel=1e-4)


def test_reciprocity_and_superposition_of_two_patches():
    # patch means by the cosine series of the centred patch; reciprocity after Carslaw & Jaeger
    places = {"a": rectangle(0.03, 0.02, 0.02, 0.02), "b": rectangle(0.115, 0.065, 0.01, 0.01)}

    def means(**watts):
        sources = {name: {"on": "sheet.s", **places[name], "watts": f"{watts.get(name, 0)} W"} for name in places}
        model = model_of(cell=0.001, sheet={"s": BOARD}, film={"both": film(20)}, source=sources)
        cells = field(model, solve_steady(model).temperature)
        return cells[20:40, 30:50].mean(), cells[65:75, 115:125].mean()

    aa, ab = means(a=1)
    ba, bb = means(b=1)
    assert (aa, bb) == pytest.approx((10.48175, 13.74112), rel=4e-3)  # 10 cells across b
    assert ab == pytest.approx(0.987068, rel=1e-3)
    assert ab == pytest.approx(ba, rel=1e-9)
    assert means(a=6, b=4) == pytest.approx((66.8388, 60.8869), rel=4e-3)


def test_how_optimistic_a_thin_sheet_is():
    # Yovanovich, Muzychka & Culham, J. Thermophys. Heat Transfer 13 (1999) 495, from memory: in three
    # dimensions 19.131 K; a 5 mm plate, k 167, 50 W on 20 x 20 mm, h 500 on the far face. The sheet's own
    # series: 17.897 K.
    plate = sheet(0.16, 0.1, 0.005, 167)
    model = model_of(
        cell=0.001,
        sheet={"s": plate},
        film={"far": film(500, face="bottom")},
        source={"chip": {"on": "sheet.s", **rectangle(0.07, 0.04, 0.02, 0.02), "watts": "50 W"}},
    )
    mean = field(model, solve_steady(model).temperature)[40:60, 70:90].mean()
    assert mean == pytest.approx(17.897, rel=2e-3)
    assert mean / 19.131 - 1 == pytest.approx(-0.065, abs=0.003)

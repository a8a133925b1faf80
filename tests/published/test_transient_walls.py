"""Transient conduction in walls and half-spaces: strips of a sheet, edges driven or cooled."""

from math import exp, log, pi, sqrt, tan

import numpy as np
import pytest
from published_cases import at, field, held, history, model_of, sheet
from scipy.special import erfinv


def strip(length: float, cells: int, k: float, heat: float, **tables):
    """A bar along x of one row of cells, 1 m thick."""
    size = length / cells
    return model_of(cell=size, sheet={"s": sheet(length, size, 1, k, heat)}, **tables)


def test_nafems_t3_bar_with_a_driven_end(engine):
    # Cameron, Casey & Simpson, NAFEMS Benchmark Tests for Thermal Analysis (1986), test T3: 36.6 °C at 0.08
    # m, 32 s. More decimals and more times from its eigenfunction series with 4000 modes; 32 s alone is next
    # to the peak.
    model = strip(
        0.1, 200, 35, 7200 * 440.5,
        edge={"left": held("left", 0), "right": held("right", 0)},
        duty={"end": {
            "of": "edge.right.temperature",
            "sine": {"mean": "0 degC", "amplitude": "100 K", "period": "80 s"},
        }},
    )  # fmt: skip
    times = [8, 16, 24, 32, 34, 36, 40]
    found = [at(model, fields, 0.08, 0)[0] for fields in history(model, times, engine=engine)]
    expected = [2.7871, 14.8646, 28.7749, 36.6031, 36.9947, 36.6813, 33.9328]
    assert found == pytest.approx(expected, abs=0.02)
    inside = at(model, history(model, [32], engine=engine)[0], [0.02, 0.04, 0.06], 0)
    assert inside == pytest.approx(np.array([0.0909, 1.1503, 8.6678]), abs=0.02)


PLANE_WALL = [  # Bi, ζ, C1: Incropera & DeWitt, 6th ed., table 5.1 (ζ tan ζ = Bi)
    (0.01, 0.0998, 1.0017), (0.1, 0.3111, 1.0161), (0.5, 0.6533, 1.0701), (1, 0.8603, 1.1191),
    (2, 1.0769, 1.1785), (5, 1.3138, 1.2402), (10, 1.4289, 1.2620), (100, 1.5552, 1.2731),
]  # fmt: skip


@pytest.mark.parametrize(("bi", "zeta", "amplitude"), PLANE_WALL)
def test_plane_wall_decays_as_its_first_term(bi, zeta, amplitude, engine):
    assert zeta * tan(zeta) == pytest.approx(bi, rel=6e-3)  # the table's own rounding
    model = strip(1, 100, 1, 1, start=1000, edge={"cooled": {"on": "sheet.s", "side": "right", "h": f"{bi} W/m2K"}})
    times = 1.0, 1.0 + min(1 / zeta**2, 40)
    first, second = history(model, times, tolerance=1e-3, engine=engine)[:, 0] / 1000
    decay = log(first / second) / (times[1] - times[0])
    assert sqrt(decay) == pytest.approx(zeta, abs=1.5e-4)
    assert first * exp(decay * times[0]) == pytest.approx(amplitude, abs=5e-4)


def test_pipe_wall_heated_by_oil(engine):
    # Incropera & DeWitt, 6th ed., example 5.4: the book prints 42.9 and 45.2 °C from rounded coefficients,
    # the series gives 43.016 and 45.362; 27.3 MJ per metre of 1 m pipe (27.254 in the series)
    model = strip(
        0.04, 80, 63.9, 7832 * 434, start=-20,
        edge={"oil": {"on": "sheet.s", "side": "right", "h": "500 W/m2K", "air": "60 degC"}},
    )  # fmt: skip
    (found,) = history(model, [480], engine=engine)
    row = field(model, found)[0]
    rim = found[model.numbers("edge.oil rim")][0]
    assert row[0] == pytest.approx(43.016, abs=0.01)
    assert rim == pytest.approx(45.362, abs=0.01)
    assert 500 * (60 - rim) == pytest.approx(7318.7, rel=2e-3)
    energy = (row.mean() + 20) * 7832 * 434 * 0.04
    assert pi * energy == pytest.approx(27.254e6, rel=1e-3)


def test_soil_that_freezes_from_its_surface(engine):
    # Incropera & DeWitt, 6th ed., example 5.6: 0 °C is 0.68 m deep after 60 days: 2·erfinv(15/35)·√(αt) =
    # 0.6766 m
    seconds, k, heat = 60 * 86400, 0.52, 2050 * 1840
    model = strip(4, 400, k, heat, start=20, edge={"surface": held("left", -15)})
    (found,) = history(model, [seconds], engine=engine)
    centres = model.site.sheets["sheet.s"].centres[0]
    depth = np.interp(0.0, field(model, found)[0], centres)
    assert depth == pytest.approx(0.6766, abs=1e-3)
    assert 2 * erfinv(15 / 35) * sqrt(k / heat * seconds) == pytest.approx(0.6766, abs=1e-4)


def test_half_space_under_a_step_of_flux():
    # Carslaw & Jaeger section 2.9; Incropera & DeWitt equation 5.59, after 10 s of 1e5 W/m² into aluminium
    k = 237
    model = strip(0.3, 600, k, 2702 * 903, edge={"heater": {"on": "sheet.s", "side": "left", "flux": "1e5 W/m2"}})
    (found,) = history(model, [10])
    surface = field(model, found)[0, 0] + 1e5 * 0.00025 / k  # from the cell's centre out to the rim
    assert surface == pytest.approx(14.8386, rel=2e-3)
    assert at(model, found, 0.02, 0)[0] == pytest.approx(7.9018, rel=2e-3)


@pytest.mark.parametrize(
    ("length", "depth", "amplitude", "lag"),
    [(0.6, 0.05, 0.252324, 13.150), (0.1, 0.1, 0.126966, 26.327)],
)
def test_slab_driven_by_a_periodic_surface(length, depth, amplitude, lag, engine):
    # Carslaw & Jaeger sections 2.6 and 3.6: half-space, and 100 mm with an insulated back; α = 6.90311e-5
    # m²/s
    period = 60.0
    model = strip(
        length, round(length * 1000), 167, 2700 * 896,
        edge={"surface": held("left", 0)},
        duty={"surface": {
            "of": "edge.surface.temperature",
            "sine": {"mean": "0 degC", "amplitude": "100 K", "period": "60 s"},
        }},
    )  # fmt: skip
    times = 10 * period + np.linspace(0, period, 49)[:-1]  # the start has decayed by then
    reading = np.array([at(model, fields, depth, 0)[0] for fields in history(model, times, 2e-3, engine=engine)])
    phase = 2 * pi * times / period
    swing = 2 * np.mean(reading * np.exp(-1j * (phase - pi / 2)))
    assert abs(swing) / 100 == pytest.approx(amplitude, rel=5e-3)
    assert -np.angle(swing) % (2 * pi) / (2 * pi) * period == pytest.approx(lag, abs=0.1)

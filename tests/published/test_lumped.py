"""Lumped parts over time: beads, panels, two nodes, periodic power; and the warm-up read from them."""

from math import exp, pi, sqrt

import numpy as np
import pytest
from published_cases import film, history, model_of, node, sheet

from thermsim.solve.settle import warm_up
from thermsim.solve.steady import solve_steady

# Incropera & DeWitt, 6th ed., example 5.1: a thermocouple bead, h 400, k 20, c 400, ρ 8500, τ = 1 s
BEAD_M = 6 * 400 / (8500 * 400)


def bead(**films):
    side = sqrt(pi) * BEAD_M  # a square of the sphere's area
    part = {
        "watts": "0 W", "size": f"{side} x {side} m",
        "heat_capacity": f"{8500 * 400 * pi * BEAD_M**3 / 6} J/K",
    }  # fmt: skip
    return model_of(room=25, part={"bead": part}, film=films)


def reaches(model, degc: float, low: float, high: float, engine) -> float:
    """Time at which the first node, getting warmer, reaches a temperature."""
    times = np.linspace(low, high, 201)
    return float(np.interp(degc, history(model, times, 1e-4, engine=engine)[:, 0], times))


def test_bead_in_hot_gas(engine):
    assert pytest.approx(7.059e-4, rel=1e-4) == BEAD_M
    model = bead(gas=film(400, "part.bead", air="200 degC"))
    assert reaches(model, 199, 4, 6, engine) == pytest.approx(5.165, abs=2e-3)


def test_bead_that_also_sees_hot_walls(engine):
    # Incropera & DeWitt, 6th ed., example 5.2: emissivity 0.9, walls at 400 °C: 218.7 °C, within 1 K after
    # 4.9 s
    model = bead(
        gas=film(400, "part.bead", air="200 degC"),
        walls=film(0, "part.bead", air="400 degC", emissivity=0.9),
    )
    assert solve_steady(model).temperature[0] == pytest.approx(218.72, abs=0.02)  # 218.71 where 0 °C is 273 K
    assert reaches(model, 217.73, 4, 6, engine) == pytest.approx(4.99, abs=0.01)


def test_panel_in_an_oven_and_out_again(engine):
    # Incropera & DeWitt, 6th ed., example 5.3: 3 mm panel, ε 0.8, oven 175 °C and h 40, then 25 °C and h 10.
    # Times by an independent Runge-Kutta solution (rtol 1e-10): 150 °C at 123.08 s, 174.75 °C at 423.08 s, 37
    # °C at 986.3 s.
    def panel(h: float, air: float, start: float):
        faces = {face: film(h, face=face, air=f"{air} degC", emissivity=0.8) for face in ("top", "bottom")}
        sheets = {"s": sheet(0.1, 0.1, 0.003, 177, 2770 * 875)}
        return model_of(cell=0.1, room=25, start=start, sheet=sheets, film=faces)

    oven = panel(40, 175, 25)
    assert reaches(oven, 150, 100, 150, engine) == pytest.approx(123.08, abs=0.1)
    hot = history(oven, [423.08], engine=engine)[0, 0]
    assert hot == pytest.approx(174.75, abs=0.02)
    times = np.linspace(540, 580, 81)
    cooled = history(panel(10, 25, hot), times, engine=engine)[:, 0]
    assert 423.08 + np.interp(-37, -cooled, times) == pytest.approx(986.3, abs=0.5)


def test_oven_temperature_may_follow_a_duty(engine):
    # with a huge film the panel is at the oven's temperature: 25 °C at first, 175 °C from 10 s, halfway in
    # the ramp
    model = model_of(
        cell=0.1,
        sheet={"s": sheet(0.1, 0.1, 1e-3, 100)},
        film={"oven": film(1e7, air="25 degC")},
        duty={"heat": {"of": "film.oven.air", "shape": "ramp", "points": ["5 s, 25 degC", "10 s, 175 degC"]}},
    )
    assert history(model, [4, 7.5, 20], engine=engine)[:, 0] == pytest.approx([25, 100, 175], abs=0.1)


@pytest.mark.parametrize(("share", "in_tau"), [(0.90, 2.302585), (0.95, 2.995732), (0.99, 4.605170)])
def test_time_to_a_share_of_the_rise(share, in_tau, engine):
    # ln(1/(1 − share)), any text; read by the warm-up of a uniformly heated sheet: 500 W/m², h 20, 3256 J/m²K
    model = model_of(
        cell=0.1,
        sheet={"s": sheet(0.1, 0.1, 0.0016, 20, 3256 / 0.0016)},
        film={"top": film(20)},
        source={"heater": {"on": "sheet.s", "flux": "500 W/m2"}},
    )
    times = np.linspace(0, 1600, 3201)
    found = history(model, times, tolerance=1e-4, engine=engine)[:, 0]
    assert np.interp(120, times, found) == pytest.approx(13.0375, abs=2e-3)
    assert warm_up(times, found, 25.0, 25 * (1 - share)) == pytest.approx(162.8 * in_tau, abs=0.1)


def test_two_nodes_warming_up(engine):
    # C1 50, C2 1000 J/K, G12 2, G2 1 W/K, 20 W in node 1: closed form of the two modes, τ 23.782 and 1051.218
    # s
    model = model_of(
        part={
            "one": {"watts": "20 W", "heat_capacity": "50 J/K", "size": "1 x 1 m"},
            "two": {"watts": "0 W", "heat_capacity": "1000 J/K", "size": "1 x 1 m"},
        },
        joint={"g": {"between": ["part.one", "part.two"], "resistance": "0.5 K/W"}},
        film={"out": film(1, "part.two")},
    )
    both = [node(model, "part.one"), node(model, "part.two")]
    assert solve_steady(model).temperature[both] == pytest.approx([30, 20], abs=1e-6)
    found = history(model, [10, 60, 300, 1000, 3000], engine=engine)[:, both]
    expected = np.array([
        [3.3012, 0.0348], [9.4763, 0.7095], [14.2427, 4.6175], [21.9037, 12.0962], [28.7921, 18.8209],
    ])  # fmt: skip
    assert found == pytest.approx(expected, abs=3e-3)


def test_periodic_power(engine):
    # one node, C 300, G 2, P = 40(1 + sin ωt), period 900 s: mean 20, amplitude 13.8124 K, lag 115.80 s
    # (46.32°): P/√(G² + ω²C²) and atan(ωτ), any text on first-order systems
    model = model_of(
        part={"p": {"watts": "40 W", "heat_capacity": "300 J/K", "size": "1 x 1 m"}},
        film={"out": film(2, "part.p")},
        duty={"p": {
            "of": "part.p.watts", "sine": {"mean": "40 W", "amplitude": "40 W", "period": "900 s"},
        }},
    )  # fmt: skip
    times = 3600 + np.linspace(0, 900, 361)[:-1]
    found = history(model, times, engine=engine)[:, 0]
    swing = 2 * np.mean(found * np.exp(-1j * (2 * pi * times / 900 - pi / 2)))
    assert found.mean() == pytest.approx(20, abs=2e-3)
    assert abs(swing) == pytest.approx(13.8124, abs=5e-3)
    assert -np.angle(swing) / (2 * pi) * 900 == pytest.approx(115.80, abs=0.1)


def test_source_watts_may_follow_a_duty(engine):
    # a step of 10 W at 50 s into a sheet of 20 J/K that loses nothing but 1 W/K: 10 (1 − e^(−t/20)) K
    model = model_of(
        cell=1,
        sheet={"s": sheet(1, 1, 1e-3, 100, 2e4)},
        film={"top": film(1)},
        source={"sun": {"on": "sheet.s", "watts": "0 W"}},
        duty={"sun": {"of": "source.sun.watts", "points": ["0 s, 0 W", "50 s, 10 W"]}},
    )
    found = history(model, [50, 70, 110], engine=engine)[:, 0]
    assert found == pytest.approx([0, 10 * (1 - exp(-1)), 10 * (1 - exp(-3))], abs=2e-3)

"""Observed order of accuracy: manufactured solutions on refined grids, and fixed time steps halved."""

import itertools
from math import cos, log2, pi

import numpy as np
import pytest
from published_cases import field, film, held, history, model_of, node, rectangle, sheet
from scipy.integrate import solve_ivp

from thermsim.model.system import Model
from thermsim.solve.dynamics import FullDynamics
from thermsim.solve.steady import solve_steady
from thermsim.solve.tr_bdf2 import Stepper

# T = 20 + 10 cos(πx/a) cos(2πy/b) on an orthotropic sheet with adiabatic edges (method of manufactured
# solutions, Roache, J. Fluids Eng. 124 (2002) 4): the source below keeps it steady, without it the shape
# decays as one mode
A, B, THICKNESS, KX, KY, H = 0.16, 0.10, 0.0016, 12.0, 3.0, 25.0
PER_KELVIN = H + THICKNESS * (KX * (pi / A) ** 2 + KY * (2 * pi / B) ** 2)  # 51.351844 W/m²K


def manufactured(model: Model):
    x, y = model.site.sheets["sheet.s"].centres
    return 10 * np.cos(2 * pi * y / B)[:, None] * np.cos(pi * x / A)[None, :]


def board(heat: float = 2.035e6) -> dict:
    return {"s": sheet(A, B, THICKNESS, KX, heat, conductivity_y=f"{KY} W/mK")}


def manufactured_error(columns: int, rows: int) -> float:
    dx, dy = A / columns, B / rows
    sources = {
        f"{i} {j}": {
            "on": "sheet.s", **rectangle(i * dx, j * dy, dx, dy),
            "flux": f"{10 * PER_KELVIN * cos(pi * (i + 0.5) / columns) * cos(2 * pi * (j + 0.5) / rows)} "
            "W/m2",
        }
        for i in range(columns) for j in range(rows)
    }  # fmt: skip
    model = model_of(cell=max(dx, dy), room=20, sheet=board(), film={"top": film(H)}, source=sources)
    found = field(model, solve_steady(model).temperature)
    assert found.shape == (rows, columns)
    return float(np.abs(found - 20 - manufactured(model)).max())


def test_space_is_second_order():
    assert pytest.approx(51.351844, abs=1e-6) == PER_KELVIN
    errors = [manufactured_error(n, n // 2) for n in (10, 20, 40, 80)]
    orders = [log2(coarse / fine) for coarse, fine in itertools.pairwise(errors)]
    assert min(orders[1:]) >= 1.9, (errors, orders)
    # an independent finite-volume code
    assert errors[1:] == pytest.approx([0.11785, 0.03068, 0.007748], rel=0.01)


def test_space_is_second_order_across_unlike_materials():
    # k 2 | 40 W/mK joined in the middle of 0.1 m, 50 kW/m³: 113.75 °C there, 115.3125 °C at the end (by hand)
    errors = []
    for cells in (10, 20, 40, 80):
        size = 0.1 / cells
        good = {"b": {**rectangle(0.05, 0, 0.05, size), "conductivity": "40 W/mK"}}
        model = model_of(
            cell=size,
            sheet={"s": sheet(0.1, size, 1, 2, patch=good)},
            source={"all": {"on": "sheet.s", "density": "50 kW/m3"}},
            edge={"left": held("left", 20)},
        )
        row = field(model, solve_steady(model).temperature)[0]
        x = model.site.sheets["sheet.s"].centres[0]
        exact = np.where(
            x < 0.05,
            20 + 5e4 * x * (0.1 - x / 2) / 2,
            113.75 + 5e4 * ((0.1 - x / 2) * x - 0.05 * 0.075) / 40,
        )
        errors.append(np.abs(row - exact).max())
    assert errors[-1] < 0.01
    orders = [log2(coarse / fine) for coarse, fine in itertools.pairwise(errors)]
    assert min(orders) >= 1.9, orders


def test_one_mode_decays_at_its_rate():
    # λ = 51.351844/3256 = 0.01577145 1/s; after 60 s 0.3881796 is left
    model = model_of(cell=0.001, room=20, sheet=board(), film={"top": film(H)})
    start = 20 + manufactured(model).ravel()
    (found,) = history(model, [60], tolerance=1e-4, start=start)
    left = (found - 20) / (start - 20)
    assert left == pytest.approx(np.full(left.size, 0.3881796), rel=5e-4)


def radiating_pair() -> Model:
    """Two parts, one of which radiates: nonlinear, with a fast and a slow mode."""
    return model_of(
        start=300,
        part={
            "one": {"watts": "20 W", "heat_capacity": "50 J/K", "size": "10 x 10 cm"},
            "two": {"watts": "0 W", "heat_capacity": "200 J/K", "size": "10 x 10 cm"},
        },
        joint={"g": {"between": ["part.one", "part.two"], "resistance": "0.5 K/W"}},
        film={"out": film(8, "part.two", emissivity=0.9)},
    )


def fixed_steps(model: Model, end: float, steps: int):
    stepper = Stepper(FullDynamics(model), 1e-9)
    state = stepper.state(0.0, model.start(), (), 0.0)
    for _ in range(steps):
        state = stepper.step(state, end / steps, 0.0)[0].last
    return state.x


def test_time_is_second_order():
    # against SciPy's eighth-order Runge-Kutta on the two equations written out by hand
    def rates(_time, t):
        between = 2 * (t[0] - t[1])
        lost = 0.01 * (8 * t[1] + 0.9 * 5.670374419e-8 * ((t[1] + 273.15) ** 4 - 273.15**4))
        return [(20 - between) / 50, (between - lost) / 200]

    exact = solve_ivp(rates, (0, 100), [300, 300], method="DOP853", rtol=1e-11, atol=1e-9).y[:, -1]
    model = radiating_pair()
    both = [node(model, "part.one"), node(model, "part.two")]
    errors = [np.abs(fixed_steps(model, 100, n)[both] - exact).max() for n in (8, 16, 32, 64)]
    orders = [log2(coarse / fine) for coarse, fine in itertools.pairwise(errors)]
    assert min(orders) >= 1.9, (errors, orders)
    for engine in ("full", "reduced"):
        found = history(model, [100], tolerance=0.02, engine=engine)[0][both]
        assert found == pytest.approx(exact, abs=0.02), engine

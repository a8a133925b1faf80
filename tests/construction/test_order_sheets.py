"""Observed order in space of conduction, films, radiation and joints: fields made up, their heat put in.

Mostly T = mean + swing · cos cos on sheets of 160 x 100 mm with adiabatic rims (method of manufactured solutions,
Roache, J. Fluids Eng. 124 (2002) 4). Second order is asked for.
"""

import numpy as np
import pytest
from modes import Mode
from observed import MADE, assert_order, heated, on_sheet, orders
from published_cases import field, film, held, model_of, node, rectangle, sheet

from thermsim.model.system import Model
from thermsim.physics.films import natural_film
from thermsim.solve.steady import solve_steady

A, B, THICKNESS, H = 0.16, 0.10, 0.0016, 25.0
SIGMA = 5.670374419e-8  # W/m²K⁴
FINER = (3, 6, 12)  # cells in 20 mm
MADE_UP = Mode(20, 10, 1, 2, A, B)


def missed(model: Model, *exact: tuple[Mode, str]) -> float:
    """The largest error of steady fields, K."""
    found = solve_steady(model).temperature
    return max(float(np.abs(field(model, found, address) - mode.on(model, address)).max()) for mode, address in exact)


def kelvin4(degc):
    return (degc + 273.15) ** 4


@pytest.mark.parametrize(("along", "across"), [(12.0, 12.0), (12.0, 3.0)], ids=["isotropic", "orthotropic"])
def test_conduction(along, across):
    def error(n: int) -> float:
        board = sheet(A, B, THICKNESS, along, conductivity_y=f"{across} W/mK")
        model = model_of(cell=0.02, room=20, sheet={"s": board}, film={"top": film(H)}, source=MADE | lines(n, n // 2))
        assert field(model, model.start()).shape == (n // 2, n)
        heat = MADE_UP.spread(model, THICKNESS * along, THICKNESS * across) + H * (MADE_UP.on(model) - 20)
        return missed(heated(model, on_sheet(model, heat)), (MADE_UP, "sheet.s"))

    errors = [error(n) for n in (10, 20, 40, 80)]
    assert min(orders(errors)[1:]) >= 1.9, errors
    if across == 3.0:  # as an independent finite-volume code has them
        assert errors[1:] == pytest.approx([0.11785, 0.03068, 0.007748], rel=0.01)


def lines(columns: int, rows: int) -> dict:
    """Strips without heat that lay grid lines for so many columns and rows."""
    idle = {"on": "sheet.s", "watts": "0 W"}
    wide, deep = A / columns, B / rows
    found = {f"x{i}": {**idle, **rectangle(i * wide, 0, wide, B)} for i in range(columns)}
    return found | {f"y{j}": {**idle, **rectangle(0, j * deep, A, deep)} for j in range(rows)}


def test_conduction_on_a_graded_grid():
    # a strip of the board's own stuff, an eighth of a cell wide, makes cells double from it both ways
    def error(n: int) -> float:
        cell = 0.02 / n
        same = {"conductivity": "12 W/mK", "conductivity_y": "3 W/mK"}
        strip = {"x": same | rectangle(0.05, 0, cell / 8, B), "y": same | rectangle(0, 0.03, A, cell / 8)}
        board = sheet(A, B, THICKNESS, 12, conductivity_y="3 W/mK", patch=strip)
        model = model_of(cell=cell, room=20, sheet={"s": board}, film={"top": film(H)}, source=MADE)
        sizes = np.diff(model.site.grid.x)
        assert sizes.max() >= 7 * sizes.min()
        heat = MADE_UP.spread(model, THICKNESS * 12, THICKNESS * 3) + H * (MADE_UP.on(model) - 20)
        return missed(heated(model, on_sheet(model, heat)), (MADE_UP, "sheet.s"))

    assert_order(error, FINER, 1.9)


def test_unlike_materials():
    # k 2 | 40 W/mK joined in the middle of 0.1 m, 50 kW/m³: 113.75 °C there, 115.3125 °C at the end (by hand)
    def error(n: int) -> float:
        size = 0.1 / n
        good = {"b": {**rectangle(0.05, 0, 0.05, size), "conductivity": "40 W/mK"}}
        model = model_of(
            cell=size,
            sheet={"s": sheet(0.1, size, 1, 2, patch=good)},
            source={"all": {"on": "sheet.s", "density": "50 kW/m3"}},
            edge={"left": held("left", 20)},
        )
        row = field(model, solve_steady(model).temperature)[0]
        x = model.site.sheets["sheet.s"].centres[0]
        poor, better = 20 + 5e4 * x * (0.1 - x / 2) / 2, 113.75 + 5e4 * ((0.1 - x / 2) * x - 0.05 * 0.075) / 40
        return float(np.abs(row - np.where(x < 0.05, poor, better)).max())

    assert_order(error, (10, 20, 40, 80), 1.9)
    assert error(80) < 0.01


def test_jump_of_thickness():
    # two fins in line, 1 and 4 mm of k 50 W/mK, 25 W/m²K on one face, 60 K at one end, the other insulated
    # (Incropera, fins of even section): with u = cosh of the second from its insulated end, both match in T and flux
    thin, thick, half = 0.001, 0.004, 0.05
    m1, m2 = np.sqrt(H / (50 * thin)), np.sqrt(H / (50 * thick))
    ratio = thick * m2 * np.tanh(m2 * half) / (thin * m1)  # slope to value at the joint, of the first fin
    middle = 60 / (np.cosh(m1 * half) + ratio * np.sinh(m1 * half))

    def error(n: int) -> float:
        size = 0.01 / n
        step = {"b": {**rectangle(half, 0, half, size), "thickness": f"{thick} m"}}
        model = model_of(
            cell=size, sheet={"s": sheet(0.1, size, thin, 50, patch=step)}, film={"f": film(H)},
            edge={"left": held("left", 60)},
        )  # fmt: skip
        x = model.site.sheets["sheet.s"].centres[0]
        first = middle * (np.cosh(m1 * (half - x)) + ratio * np.sinh(m1 * (half - x)))
        second = middle * np.cosh(m2 * (0.1 - x)) / np.cosh(m2 * half)
        return float(np.abs(field(model, solve_steady(model).temperature)[0] - np.where(x < half, first, second)).max())

    assert_order(error, FINER, 1.9)


def two_sheets(n: int, source: dict | None = None, **more) -> tuple[Model, Mode, Mode]:
    """A sheet over part of another, with a field of its own on each."""
    upper = Mode(25, 6, 2, 1, 0.08, 0.06, 0.04, 0.02)
    model = model_of(
        cell=0.02 / n, room=20, source=MADE | (source or {}),
        sheet={
            "s": sheet(A, B, THICKNESS, 12, conductivity_through="0.3 W/mK"),
            "t": sheet(0.08, 0.06, 0.002, 40, corner="0.04, 0.02 m", conductivity_through="0.5 W/mK"),
        },
        film={"s": film(H, face="bottom"), "t": film(9, "sheet.t")},
        **more,
    )  # fmt: skip
    return model, MADE_UP, upper


def two_sheet_error(n: int, exchange, **more) -> float:
    """Error where both sheets exchange `exchange(lower, upper)` W/m² on the whole of the upper, or what it says."""
    model, lower, upper = two_sheets(n, **more)
    below, above = lower.on(model), upper.on(model, "sheet.t")
    # films in series with half the thickness
    films = 1 / (1 / H + THICKNESS / 2 / 0.3), 1 / (1 / 9 + 0.001 / 0.5)
    heat_below = lower.spread(model, 12 * THICKNESS, 12 * THICKNESS) + films[0] * (below - 20)
    heat_above = upper.spread(model, 0.08, 0.08, "sheet.t") + films[1] * (above - 20)
    cells = model.site.sheets["sheet.t"]
    under = np.s_[cells.rows, cells.columns]
    moved = exchange(below[under], above, cells)
    heat_below[under] += moved
    watts = on_sheet(model, heat_below) + on_sheet(model, heat_above - moved, "sheet.t")
    return missed(heated(model, watts), (lower, "sheet.s"), (upper, "sheet.t"))


def test_joint_between_sheets():
    across = 1 / (1 / 250 + THICKNESS / 2 / 0.3 + 0.001 / 0.5)
    pad = {"pad": {"between": ["sheet.s", "sheet.t"], "conductance": "250 W/m2K"}}
    assert_order(lambda n: two_sheet_error(n, lambda low, up, _: across * (low - up), joint=pad), FINER, 1.9)


def test_joint_on_a_rectangle():
    # 2 K/W over 40 x 20 mm, shared out by area on unlike cells: a strip an eighth of a cell wide lies across it
    def exchange(low, up, cells):
        return np.where(cells.inside((0.06, 0.04), (0.04, 0.02)), (low - up) / (2 * 0.04 * 0.02), 0.0)

    screw = {"screw": {"between": ["sheet.s", "sheet.t"], "resistance": "2 K/W", **rectangle(0.06, 0.04, 0.04, 0.02)}}

    def error(n: int) -> float:
        strip = {"strip": {"on": "sheet.s", "watts": "0 W", **rectangle(0.07, 0, 0.02 / n / 8, B)}}
        return two_sheet_error(n, exchange, joint=screw, source=strip)

    assert_order(error, FINER, 1.9)


def test_radiation_between_sheets():
    gap = {"gap": {"between": ["sheet.s", "sheet.t"], "emissivity": [0.9, 0.5]}}

    def exchange(low, up, _):
        return SIGMA * (kelvin4(low) - kelvin4(up)) / (1 / 0.9 + 1 / 0.5 - 1)

    assert_order(lambda n: two_sheet_error(n, exchange, radiation=gap), FINER, 1.9)


def test_heat_pipe_between_sheets():
    # two pipes of 0.5 K/W from a rectangle of one to the same of the other: a vapour of one temperature, half of the
    # resistance on either side, spread evenly over the rectangle
    left, front, width, depth = 0.06, 0.04, 0.02, 0.02
    upper = two_sheets(2)[2]
    vapour = (MADE_UP.mean_over(left, front, width, depth) + upper.mean_over(left, front, width, depth)) / 2
    per_area = 2 / (0.5 / 2) / (width * depth)
    pipe = {"p": {
        "between": ["sheet.s", "sheet.t"], "count": 2, "resistance": "0.5 K/W", "capacity": "35 W",
        **rectangle(left, front, width, depth),
    }}  # fmt: skip

    def error(n: int) -> float:
        model, lower, above = two_sheets(n, heat_pipe=pipe)
        watts = np.zeros(model.node_count)
        for mode, address, kt, h in (
            (lower, "sheet.s", 12 * THICKNESS, 1 / (1 / H + THICKNESS / 2 / 0.3)),
            (above, "sheet.t", 0.08, 1 / (1 / 9 + 0.001 / 0.5)),
        ):
            here = mode.on(model, address)
            inside = model.site.sheets[address].inside((left, front), (width, depth))
            heat = mode.spread(model, kt, kt, address) + h * (here - 20)
            watts += on_sheet(model, heat + np.where(inside, per_area * (here - vapour), 0.0), address)
        return missed(heated(model, watts), (lower, "sheet.s"), (above, "sheet.t"))

    assert_order(error, FINER, 1.9)


def test_part_with_both_its_resistances():
    # 4 W; 2 K/W to an even share of its footprint, 3 K/W to its top, from which 2000 W/m²K on 4 cm² go to the room
    left, front, width, depth = 0.06, 0.04, 0.02, 0.02
    upward = 1 / (3 + 1 / (2000 * width * depth))
    under = MADE_UP.mean_over(left, front, width, depth)
    body = (4 + under / 2 + 20 * upward) / (1 / 2 + upward)
    chip = {"p": {
        "on": "sheet.s", "centre": "70, 50 mm", "size": "20 x 20 mm", "watts": "4 W", "to_board": "2 K/W",
        "to_top": "3 K/W", "heat_capacity": "5 J/K",
    }}  # fmt: skip

    def errors(n: int) -> tuple[float, float]:
        model = model_of(
            cell=0.02 / n, room=20, sheet={"s": sheet(A, B, THICKNESS, 12)}, source=MADE, part=chip,
            film={"s": film(H), "p": film(2000, "part.p")},
        )  # fmt: skip
        here = MADE_UP.on(model)
        inside = model.site.sheets["sheet.s"].inside((left, front), (width, depth))
        taken = np.where(inside, (body - here) / (2 * width * depth), 0.0)
        heat = MADE_UP.spread(model, 12 * THICKNESS, 12 * THICKNESS) + H * (here - 20) - taken
        heated(model, on_sheet(model, heat))
        hot = solve_steady(model).temperature[node(model, "part.p")]
        return missed(model, (MADE_UP, "sheet.s")), abs(hot - body)

    assert_order(lambda n: errors(n)[0], FINER, 1.9)
    assert_order(lambda n: errors(n)[1], FINER, 1.9)


def test_radiating_film():
    warm = Mode(60, 30, 1, 2, A, B)

    def error(n: int) -> float:
        model = model_of(
            cell=0.02 / n, room=20, sheet={"s": sheet(A, B, THICKNESS, 12)}, source=MADE,
            film={"top": film(8, emissivity=0.9)},
        )  # fmt: skip
        here = warm.on(model)
        lost = 8 * (here - 20) + 0.9 * SIGMA * (kelvin4(here) - kelvin4(20.0))
        heat = warm.spread(model, 12 * THICKNESS, 12 * THICKNESS) + lost
        return missed(heated(model, on_sheet(model, heat)), (warm, "sheet.s"))

    assert_order(error, FINER, 1.9)


def test_film_of_natural_convection():
    # its coefficient follows from the face's mean temperature, here the mode's mean
    warm = Mode(60, 30, 1, 2, A, B)
    h = natural_film("up", 60.0, 20.0, 0.031)
    law = {"on": "sheet.s", "law": "natural", "orientation": "up", "length": "31 mm", "emissivity": 0}

    def error(n: int) -> float:
        model = model_of(
            cell=0.02 / n, room=20, sheet={"s": sheet(A, B, THICKNESS, 12)}, source=MADE, film={"top": law}
        )
        heat = warm.spread(model, 12 * THICKNESS, 12 * THICKNESS) + h * (warm.on(model) - 20)
        return missed(heated(model, on_sheet(model, heat)), (warm, "sheet.s"))

    assert_order(error, FINER, 1.9)

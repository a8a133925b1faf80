"""Observed order in space of what happens at rims: fins of even section with every kind of end, solved by hand.

θ'' = m²θ with m² = h/(k t); the ends as in Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table 3.4.
"""

from math import cosh, sinh, sqrt

import numpy as np
import pytest
from observed import assert_order
from published_cases import field, film, held, model_of, node, rectangle, sheet
from scipy.optimize import brentq

from thermsim.solve.steady import solve_steady

LENGTH, THICKNESS, K, H = 0.08, 0.002, 30.0, 60.0
M = sqrt(H / (K * THICKNESS))
KT = K * THICKNESS
ROOM, BASE = 20.0, 80.0
SIGMA = 5.670374419e-8  # W/m²K⁴
FINER = (8, 16, 32, 64)  # cells along the fin


def fin(n: int, near: dict, far: dict, graded: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """Cell centres from the near end and temperatures of a fin with two edges; one row of cells."""
    size = LENGTH / n
    strip = {"x": rectangle(0.03, 0, size / 4, size) | {"conductivity": f"{K} W/mK"}} if graded else {}
    board = sheet(LENGTH, size, THICKNESS, K, patch=strip)
    edges = {name: {"on": "sheet.s", **edge} for name, edge in (("near", near), ("far", far)) if edge}
    model = model_of(cell=size, room=ROOM, sheet={"s": board}, film={"top": film(H)}, edge=edges)
    x = model.site.sheets["sheet.s"].centres[0]
    return x, field(model, solve_steady(model).temperature)[0]


def exact(x, at_base: float, towards: float):
    """Temperatures where θ is `at_base` and θ' is `towards` at the end x = LENGTH."""
    left = LENGTH - x
    return ROOM + at_base * np.cosh(M * left) - towards / M * np.sinh(M * left)


def tip(lost) -> tuple[float, float]:
    """Rise and slope at the tip of a fin whose base is held, where `lost(rise)` is what the tip loses, W/m²."""

    def over(rise: float) -> float:
        slope = -lost(rise) / K
        return rise * cosh(M * LENGTH) - slope / M * sinh(M * LENGTH) - (BASE - ROOM)

    rise = brentq(over, 0, BASE - ROOM, xtol=1e-13, rtol=1e-14)
    return rise, -lost(rise) / K


def radiated(rise: float) -> float:
    return 0.8 * SIGMA * ((ROOM + rise + 273.15) ** 4 - (ROOM + 273.15) ** 4)


ENDS = {
    "insulated": ({}, lambda rise: 0.0),
    "film": ({"h": "300 W/m2K"}, lambda rise: 300 * rise),
    "film and radiation": ({"h": "50 W/m2K", "emissivity": 0.8}, lambda rise: 50 * rise + radiated(rise)),
    "heat flow taken": ({"flux": "-2000 W/m2"}, lambda rise: 2000.0),
}


@pytest.mark.parametrize("graded", [False, True], ids=["even", "graded"])
@pytest.mark.parametrize("end", ENDS)
def test_ends_of_a_held_fin(end, graded):
    edge, lost = ENDS[end]
    rise, slope = tip(lost)

    def error(n: int) -> float:
        far = {"side": "right", **edge} if edge else {}
        x, found = fin(n, {"side": "left", "temperature": f"{BASE} degC"}, far, graded)
        return float(np.abs(found - exact(x, rise, slope)).max())

    assert_order(error, FINER[1:], 1.9)


def test_both_ends_held():
    def error(n: int) -> float:
        x, found = fin(n, held("left", BASE), held("right", 35))
        there = (60 * np.sinh(M * (LENGTH - x)) + 15 * np.sinh(M * x)) / sinh(M * LENGTH)
        return float(np.abs(found - ROOM - there).max())

    assert_order(error, FINER[1:], 1.9)


def test_heat_put_into_a_rim():
    # per metre of rim 12 W, the far end insulated: θ = (q/k t m) cosh m(L − x)/sinh mL
    def error(n: int) -> float:
        x, found = fin(n, {"side": "left", "heat": f"{12 * LENGTH / n} W"}, {})
        return float(np.abs(found - ROOM - 12 / (KT * M) * np.cosh(M * (LENGTH - x)) / sinh(M * LENGTH)).max())

    assert_order(error, FINER[1:], 1.9)


def test_wall_between_two_rims():
    """Two sheets whose rims a wall joins, which gives heat to the room by a film of its own."""
    high, thick, k_wall, h_wall = 0.05, 0.0015, 50.0, 12.0
    to_middle = k_wall * thick / (high / 2)  # W/mK a metre of rim
    # fin a: base held, rise and slope at the wall a, -f; fin b: insulated far end, b = cosh-shaped
    base, shape = BASE - ROOM, M * KT * sinh(M * LENGTH) / cosh(M * LENGTH)  # W/mK that b takes per kelvin
    # unknowns: rises at rim a, wall, rim b; flux from a is kt·(−θ'), from the base: base = a cosh + f/(kt m) sinh
    grown, passed = cosh(M * LENGTH), sinh(M * LENGTH) / (KT * M)
    rim_a, wall, rim_b = np.linalg.solve(
        [
            [grown + passed * to_middle, -passed * to_middle, 0.0],
            [to_middle, -2 * to_middle - h_wall * high, to_middle],
            [0.0, to_middle, -to_middle - shape],
        ],
        [base, 0.0, 0.0],
    )

    def error(n: int) -> float:
        size = LENGTH / n
        board = sheet(LENGTH, size, THICKNESS, K)
        model = model_of(
            cell=size, room=ROOM, sheet={"s": board, "t": board}, film={
                "s": film(H), "t": film(H, "sheet.t"), "w": film(h_wall, "wall.w"),
            },
            material={"stuff": {
                "conductivity": f"{k_wall} W/mK", "density": "7800 kg/m3", "cp": "500 J/kgK", "source": "invented",
            }},
            wall={"w": {
                "side": "right", "size": f"{size} x {high} m", "thickness": f"{thick} m", "material": "stuff",
                "joins": ["sheet.s", "sheet.t"],
            }},
            edge={"base": held("left", BASE)},
        )  # fmt: skip
        found = solve_steady(model).temperature - ROOM
        x = model.site.sheets["sheet.s"].centres[0]
        one = exact(x, rim_a, -to_middle * (rim_a - wall) / KT) - ROOM
        other = rim_b * np.cosh(M * x) / cosh(M * LENGTH)
        missed = (
            np.abs(field(model, found) - one).max(), np.abs(field(model, found, "sheet.t") - other).max(),
            abs(found[node(model, "wall.w")] - wall),
        )  # fmt: skip
        return float(max(missed))

    assert_order(error, FINER[1:], 1.9)

"""Board stack-ups and joints in a case."""

import numpy as np
import pytest
from published_cases import leaving, model_of, node, sheet

from thermsim.solve.steady import solve_steady

SIGNAL = {"thickness": "70 um", "copper": "20 %"}
PLANE = {"thickness": "35 um", "copper": "95 %"}
FULL = {"thickness": "35 um", "copper": "100 %"}


@pytest.mark.parametrize(
    ("layers", "in_plane", "through"),
    [([SIGNAL, PLANE, PLANE, SIGNAL], 23.0213, 0.34517), ([FULL] * 4, 33.9613, 0.32874)],
)
def test_stack_up_conducts_in_plane_and_through(layers, in_plane, through):
    # Σ tᵢ[φᵢ k_Cu + (1 − φᵢ) k_L]/Σt in plane and t/Σ(tᵢ/kᵢ) through, k_Cu 385, k_L 0.3 (parallel and series
    # rules, Incropera & DeWitt section 3.1; JESD51-7 for the layers)
    board = {"corner": "0, 0 m", "size": "0.1 x 0.1 m", "thickness": "1.6 mm", "layers": layers}
    sides = {
        side: {"on": "sheet.s", "side": side, "temperature": f"{degc} degC"}
        for side, degc in (("left", 10), ("right", 0))
    }
    model = model_of(cell=0.01, sheet={"s": board}, edge=sides)
    watts = leaving(model, solve_steady(model))["edge.right"]
    assert watts == pytest.approx(in_plane * 1.6e-3 * 10, rel=5e-3)

    pinned = {"law": "fixed", "h": "1e9 W/m2K"}
    faces = {
        "hot": {"on": "sheet.lid", "air": "10 degC", **pinned}, "cold": {"on": "sheet.s", "air": "0 degC",
        **pinned},
    }  # fmt: skip
    lid = sheet(0.1, 0.1, 0.001, 1e6)
    joint = {"j": {"between": ["sheet.lid", "sheet.s"], "conductance": "1e9 W/m2K"}}
    model = model_of(cell=0.1, sheet={"s": board, "lid": lid}, joint=joint, film=faces)
    watts = leaving(model, solve_steady(model))["film.cold"]
    assert watts == pytest.approx(through / 1.6e-3 * 0.01 * 10, rel=5e-3)


PASTES = [  # bond line µm, W/mK, contact mm²K/W, K at 40 W on 20 x 20 mm: R″ = BLT/k + R_c
    (100, 1.0, 0.0, 10.0), (50, 5.0, 5.0, 1.50), (25, 3.5, 2.0, 0.914),
]  # fmt: skip


@pytest.mark.parametrize(("bond_line", "k", "contact", "kelvin"), PASTES)
def test_paste(bond_line, k, contact, kelvin):
    paste = {"bond_line": f"{bond_line} um", "conductivity": f"{k} W/mK", "contact": f"{contact} mm2K/W"}
    chip = {"watts": "40 W", "heat_capacity": "10 J/K", "size": "20 x 20 mm"}
    model = model_of(
        cell=0.02,
        sheet={"s": sheet(0.06, 0.06, 0.005, 1e9)},
        part={"chip": {**chip, "centre": "30, 30 mm"}},
        joint={"paste": {"between": ["part.chip", "sheet.s"], **paste}},
        film={"water": {"on": "sheet.s", "law": "fixed", "h": "1e4 W/m2K"}},
    )
    found = solve_steady(model).temperature
    lead = found[node(model, "part.chip")] - found[model.numbers("sheet.s")].mean()
    assert lead == pytest.approx(kelvin, rel=2e-3)


def test_four_ways_of_stating_one_joint():
    # 50 mm²K/W over 4 cm²: 0.125 K/W, 2e4 W/m²K, 100 µm of 2 W/mK
    def lead(**joint):
        model = model_of(
            cell=0.02,
            sheet={"s": sheet(0.06, 0.06, 0.005, 1e9)},
            part={"chip": {
                "watts": "40 W", "heat_capacity": "10 J/K", "size": "20 x 20 mm", "centre": "30, 30 mm",
            }},
            joint={"j": {"between": ["part.chip", "sheet.s"], **joint}},
            film={"water": {"on": "sheet.s", "law": "fixed", "h": "1e4 W/m2K"}},
        )  # fmt: skip
        found = solve_steady(model).temperature
        return found[node(model, "part.chip")] - found[model.numbers("sheet.s")].mean()

    stated = [
        lead(resistivity="50 mm2K/W"),
        lead(resistance="0.125 K/W"),
        lead(conductance="2e4 W/m2K"),
        lead(bond_line="100 um", conductivity="2 W/mK"),
    ]
    assert stated == pytest.approx([5.0] * 4, rel=1e-3)


def test_part_on_its_board():
    # two resistances in series over a uniform board: 5 W × (2 K/W + 1/(h A)), by hand
    model = model_of(
        cell=0.01,
        sheet={"s": sheet(0.05, 0.05, 0.0016, 1e9)},
        part={"chip": {
            "on": "sheet.s", "centre": "20, 30 mm", "size": "10 x 10 mm", "watts": "5 W", "to_board": "2 K/W",
            "heat_capacity": "1 J/K",
        }},
        film={"top": {"on": "sheet.s", "law": "fixed", "h": "80 W/m2K"}},
    )  # fmt: skip
    found = solve_steady(model).temperature
    assert found[node(model, "part.chip")] == pytest.approx(5 * (2 + 1 / (80 * 0.0025)), rel=1e-5)
    assert np.ptp(found[model.numbers("sheet.s")]) < 0.01


def test_heat_pipe_is_its_resistance():
    # 30 W over 0.12 m of 6 mm pipe with 3 K: 0.1 K/W, k_eff 42 441 W/mK (definition Q L/(A ΔT)); two pipes
    # halve it
    def drop(count):
        model = model_of(
            part={
                "hot": {"watts": "30 W", "heat_capacity": "1 J/K", "size": "1 x 1 m"},
                "cold": {"watts": "0 W", "heat_capacity": "1 J/K", "size": "1 x 1 m"},
            },
            heat_pipe={"p": {
                "between": ["part.hot", "part.cold"], "resistance": "0.1 K/W", "capacity": "50 W",
                "count": count,
            }},
            film={"out": {"on": "part.cold", "law": "fixed", "h": "10 W/m2K"}},
        )  # fmt: skip
        found = solve_steady(model).temperature
        return found[node(model, "part.hot")] - found[node(model, "part.cold")]

    assert drop(1) == pytest.approx(3.0, rel=1e-6)
    assert 30 * 0.12 / (np.pi * 0.003**2 * drop(1)) == pytest.approx(42441, rel=1e-4)
    assert drop(2) == pytest.approx(1.5, rel=1e-6)

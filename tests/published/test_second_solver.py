"""A board on a cold plate, solved a second time by finite elements (scikit-fem): other method, other code."""

import itertools

import numpy as np
import pytest
import scipy.sparse as sp
from published_cases import at, field, film, model_of, rectangle, sheet
from scipy.sparse.linalg import spsolve
from skfem import Basis, BilinearForm, ElementQuad1, InteriorFacetBasis, LinearForm, MeshQuad, asm
from skfem.helpers import dot, grad

from thermsim.model.system import Model
from thermsim.solve.steady import Steady, solve_steady

LENGTH, WIDTH, LINE = 0.10, 0.06, 0.0205  # m; the channel runs along y = LINE, off the middle
BOARD, PLATE = (0.032, 0.012), 1.336  # in-plane conductance (x, y) or either, W/K
JOINT, ON_BOARD, ON_PLATE, WATTS = 500.0, 15.0, 8.0, 20.0
PATCH = (0.03, 0.02, 0.02, 0.02)
SEGMENTS = 25


@pytest.fixture(scope="module")
def ours() -> tuple[Model, Steady]:
    kx, ky = (conductance / 0.0016 for conductance in BOARD)
    board = sheet(LENGTH, WIDTH, 0.0016, kx, conductivity_y=f"{ky} W/mK")
    plate = sheet(LENGTH, WIDTH, 0.008, PLATE / 0.008)
    channel = {
        "path": [f"0, {LINE} m", f"{LENGTH}, {LINE} m"], "width": "3 mm", "depth": "3 mm",
        "segments": SEGMENTS,
    }  # fmt: skip
    model = model_of(
        cell=0.001,
        room=25,
        sheet={"board": board},
        plate={"cold": {**plate, "channel": channel}},
        joint={"glue": {"between": ["sheet.board", "plate.cold"], "conductance": f"{JOINT} W/m2K"}},
        film={"board": film(ON_BOARD, "sheet.board"), "plate": film(ON_PLATE, "plate.cold", face="bottom")},
        source={"chip": {"on": "sheet.board", **rectangle(*PATCH), "watts": f"{WATTS} W"}},
        pump={"p": {"curve": ["0 L/min, 40 kPa", "2 L/min, 0 kPa"]}},
        reservoir={"bath": {"volume": "1 L", "loss": "1e9 W/K"}},
        loop={"main": {
            "pump": "pump.p", "coolant": "water", "path": ["plate.cold", "reservoir.bath"],
            "flow": "0.05 L/min",
        }},
    )  # fmt: skip
    return model, solve_steady(model)


@BilinearForm
def mass(u, v, _):
    return u * v


@LinearForm
def load(v, _):
    return 1.0 * v


def conduction(kx: float, ky: float):
    return BilinearForm(lambda u, v, w: dot(np.array([kx, ky])[:, None, None] * grad(u), grad(v)))


def by_elements(film_per_length: float, rate: float):
    """Rises by bilinear elements and upwind coolant: nodes, board, plate, coolant; W/mK and W/K given."""
    x = np.linspace(0, LENGTH, 101)
    y = np.unique(np.r_[np.linspace(0, LINE, 22), np.linspace(LINE, WIDTH, 41), PATCH[1], PATCH[1] + PATCH[3]])
    mesh = MeshQuad.init_tensor(x, y)
    basis = Basis(mesh, ElementQuad1())
    m = asm(mass, basis)
    left, front, width, depth = PATCH
    chip = mesh.elements_satisfying(
        lambda p: (abs(p[0] - left - width / 2) < width / 2) & (abs(p[1] - front - depth / 2) < depth / 2)
    )
    heat = asm(load, Basis(mesh, ElementQuad1(), elements=chip)) * WATTS / (width * depth)
    edges = np.linspace(0, LENGTH, SEGMENTS + 1)
    on_line, line_mass = [], 0 * m
    for low, high in itertools.pairwise(edges):
        facets = mesh.facets_satisfying(
            lambda p, low=low, high=high: (abs(p[1] - LINE) < 1e-9) & (p[0] > low) & (p[0] < high)
        )
        piece = InteriorFacetBasis(mesh, ElementQuad1(), facets=facets)
        on_line.append(asm(load, piece))
        line_mass = line_mass + asm(mass, piece)
    to_coolant = sp.csr_matrix(np.column_stack(on_line)) * film_per_length
    lengths = np.diff(edges)
    stream = sp.diags([film_per_length * lengths + rate, np.full(SEGMENTS - 1, -rate)], [0, -1])
    board = asm(conduction(*BOARD), basis) + (ON_BOARD + JOINT) * m
    plate = asm(conduction(PLATE, PLATE), basis) + (ON_PLATE + JOINT) * m + film_per_length * line_mass
    system = sp.bmat([
        [board, -JOINT * m, None], [-JOINT * m, plate, -to_coolant], [None, -to_coolant.T, stream],
    ])  # fmt: skip
    n = basis.N
    found = spsolve(system.tocsc(), np.r_[heat, np.zeros(n + SEGMENTS)])
    return basis, found[:n], found[n : 2 * n], found[2 * n :]


def test_board_on_a_cold_plate(ours):
    model, steady = ours
    (group,) = (k for k, g in enumerate(model.groups) if g.name == "plate.cold channel")
    basis, board, plate, coolant = by_elements(
        steady.strengths[group] * 0.012, steady.conditions.loops["main"].capacity_rate("plate.cold")
    )
    points = np.array([[x, y] for x in (0.005, 0.025, 0.04, 0.06, 0.095) for y in (0.005, 0.0205, 0.03, 0.055)]).T
    for address, other in (("sheet.board", board), ("plate.cold", plate)):
        rise = at(model, steady.temperature, *points, address) - 25
        assert rise == pytest.approx(basis.probes(points) @ other, rel=5e-3)
        area = asm(load, basis)
        assert field(model, steady.temperature, address).mean() - 25 == pytest.approx(
            area @ other / area.sum(), rel=1e-3
        )
    ours_coolant = steady.temperature[model.numbers("plate.cold coolant")] - 25
    assert ours_coolant == pytest.approx(coolant, rel=5e-3)
    assert ours_coolant[-1] > 1.0  # the coolant really carries heat

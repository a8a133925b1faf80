"""Spreading from a rectangle on a plate, in three dimensions and as a sheet."""

import numpy as np
import pytest
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from thermsim.physics import spreading as module
from thermsim.physics.spreading import Slab, spreading

ALUMINIUM = (167.0, 167.0, 167.0)
IDEAL = 1e9  # W/mK: no half thickness


@pytest.fixture
def many_terms(monkeypatch):
    """Sums carried far enough for five digits."""
    monkeypatch.setattr(module, "TERMS", 40.0)


def test_board_with_a_centred_source(many_terms):
    # Yovanovich, Muzychka & Culham 1999, general solution, from memory; evaluated by two other series: 92.400 K in
    # three dimensions; the plane's own series 91.688
    board = Slab((0.16, 0.1), 0.0016, (20.0, 20.0, 20.0), far=20.0)
    assert 10 * spreading(board, (0.08, 0.05), (0.02, 0.02)).solid == pytest.approx(92.400, abs=2e-3)
    thin = Slab((0.16, 0.1), 0.0016, (20.0, 20.0, IDEAL), far=20.0)
    assert 10 * spreading(thin, (0.08, 0.05), (0.02, 0.02)).sheet == pytest.approx(91.688, abs=2e-3)


def test_thick_plate_cooled_on_its_far_face(many_terms):
    # the same solution, from memory: 5 mm, k 167, h 500, 50 W on 20 x 20 mm of 160 x 100: 19.131 K; the plane 17.897
    plate = Slab((0.16, 0.1), 0.005, ALUMINIUM, far=500.0)
    assert 50 * spreading(plate, (0.08, 0.05), (0.02, 0.02)).solid == pytest.approx(19.131, abs=2e-3)
    thin = Slab((0.16, 0.1), 0.005, (167.0, 167.0, IDEAL), far=500.0)
    assert 50 * spreading(thin, (0.08, 0.05), (0.02, 0.02)).sheet == pytest.approx(17.897, abs=2e-3)


def test_strip_on_a_slab(many_terms):
    # Carslaw & Jaeger, Fourier series of the cross-section: half-width 25 mm, strip 5 mm, 5 mm thick, 2e5 W/m², h 2000:
    # mean of the strip 28.3261 K
    slab = Slab((0.05, 1.0), 0.005, ALUMINIUM, far=2000.0)
    assert 2e5 * 0.01 * spreading(slab, (0.025, 0.5), (0.01, 1.0)).solid == pytest.approx(28.3261, rel=1e-4)


def test_whole_face_is_a_series_of_resistances():
    # Fourier: 1/(hA) + t/(kA); a sheet holds half the thickness
    slab = Slab((0.1, 0.05), 0.004, (30.0, 10.0, 2.0), far=100.0)
    found = spreading(slab, (0.05, 0.025), (0.1, 0.05))
    assert found.solid == pytest.approx((1 / 100 + 0.004 / 2) / 0.005, rel=1e-9)
    assert found.sheet == pytest.approx((1 / 100 + 0.002 / 2) / 0.005, rel=1e-9)


def test_off_centre_with_coolant_in_the_middle_by_finite_volumes(many_terms):
    # an independent solution: 3-D finite volumes of a plate with unlike conductivities, films on both faces and in the
    # middle plane, Richardson's limit of two grids
    slab = Slab((0.04, 0.03), 0.006, (40.0, 20.0, 5.0), near=30.0, middle=400.0, far=80.0)
    found = spreading(slab, (0.012, 0.02), (0.008, 0.012)).solid
    coarse, fine = (by_volumes(slab, (0.008, 0.014), (0.008, 0.012), n) for n in (1, 2))
    assert found == pytest.approx(fine + (fine - coarse) / 3, rel=6e-3)


def by_volumes(slab: Slab, corner, size, n: int) -> float:
    """Mean of the heated face over the films' far ends, K/W, on cells of 2/n mm in plan and 0.75/n mm through."""
    shape = (8 * n, 15 * n, 20 * n)  # z from the heated face down, y, x
    step = (slab.thickness / shape[0], slab.sides[1] / shape[1], slab.sides[0] / shape[2])
    number = np.arange(np.prod(shape)).reshape(shape)
    through = (slab.conductivity[2], slab.conductivity[1], slab.conductivity[0])
    rows, columns, values = [], [], []
    diagonal = np.zeros(number.size)

    def link(a, b, conductance):
        for i, j in ((a, b), (b, a)):
            rows.append(i.ravel()), columns.append(j.ravel()), values.append(np.full(i.size, -conductance))
            np.add.at(diagonal, i.ravel(), conductance)

    for axis in range(3):
        area = np.prod(step) / step[axis]
        ends = [np.take(number, range(shape[axis])[part], axis=axis) for part in (slice(None, -1), slice(1, None))]
        link(*ends, through[axis] * area / step[axis])
    area, half = step[1] * step[2], step[0] / 2 / slab.conductivity[2]
    for layer, film in ((number[0], slab.near), (number[-1], slab.far)):
        diagonal[layer.ravel()] += area / (1 / film + half)
    # coolant in the middle plane: half of its film to each of the layers beside it, exact as cells shrink
    for layer in (number[shape[0] // 2 - 1], number[shape[0] // 2]):
        diagonal[layer.ravel()] += area * slab.middle / 2
    matrix = sp.coo_array((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tocsr()
    y, x = ((np.arange(count) + 0.5) * side for count, side in zip(shape[1:], step[1:], strict=True))
    heated = ((y > corner[1]) & (y < corner[1] + size[1]))[:, None] & ((x > corner[0]) & (x < corner[0] + size[0]))
    heat = np.zeros(shape)
    heat[0][heated] = 1 / heated.sum()
    rise = spl.spsolve((matrix + sp.diags_array(diagonal)).tocsc(), heat.ravel(), permc_spec="MMD_AT_PLUS_A")
    face_film = slab.near  # the face itself is half a cell above the first layer's centre
    flux = 1 / (heated.sum() * area)
    top = (rise.reshape(shape)[0][heated] + flux * half) / (1 + face_film * half)
    return float(top.mean())

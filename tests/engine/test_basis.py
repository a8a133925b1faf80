"""The basis is orthonormal in heat capacity, takes up only what is new, and knows what lies outside it."""

import numpy as np
import pytest
from random_boxes import random_case

from thermsim.model.build import build
from thermsim.solve.reduced.basis import QUICK, Basis, with_quick_nodes

MODEL = build(random_case(20))
VECTORS = 40  # more than the store holds at first


@pytest.fixture
def basis():
    draw = np.random.default_rng(1)
    capacity = draw.lognormal(0, 3, MODEL.node_count)  # as unlike as air and aluminium
    found = Basis(MODEL, MODEL.start(), capacity)
    # ever more alike, so that once through the Gram-Schmidt process would not do
    one, other = draw.normal(size=(2, MODEL.node_count))
    for k in range(VECTORS):
        assert found.add(one + 10.0 ** -(k % 8) * np.roll(other, k))
    return found


def test_vectors_are_orthonormal_in_heat_capacity(basis):
    assert basis.size == VECTORS
    gram = basis.vectors * basis.capacity @ basis.vectors.T
    assert gram == pytest.approx(np.eye(VECTORS), abs=1e-10)


def test_given_fields_come_first(basis):
    nodes, places = MODEL.node_count, MODEL.place_count
    assert places > 1
    assert basis.fields.shape == (1 + places + VECTORS, nodes + places)
    assert (basis.fields[0, :nodes] == MODEL.start()).all()
    assert not basis.fields[0, nodes:].any()
    assert (basis.fields[1 : 1 + places, nodes:] == np.eye(places)).all()
    assert not basis.fields[1 + places :, nodes:].any()


def test_nothing_new_is_not_taken(basis):
    spanned = np.arange(1.0, VECTORS + 1) @ basis.vectors
    for vector in (spanned, 1e9 * spanned, np.zeros(MODEL.node_count), np.full(MODEL.node_count, np.nan)):
        assert not basis.add(vector)
    assert basis.size == VECTORS


def test_what_is_outside_no_vector_sees(basis):
    heat = np.random.default_rng(2).normal(size=MODEL.node_count)
    left = basis.outside(heat)
    size = np.abs(basis.vectors) @ np.abs(heat)
    assert np.abs(basis.vectors @ left).max() <= 1e-10 * size.max()
    # a rate of change within the basis takes up all its heat
    rate = np.linspace(-1, 1, VECTORS) @ basis.vectors
    stored = basis.capacity * rate
    assert basis.outside(heat + stored) == pytest.approx(left, abs=1e-9 * np.abs(stored).max())
    assert np.abs(basis.outside(stored)).max() <= 1e-9 * np.abs(stored).max()


def test_massless_nodes_answer_in_an_instant():
    assert (MODEL.capacity == 0).any()
    diagonal = np.linspace(1, 2, MODEL.node_count)
    found = with_quick_nodes(MODEL, diagonal)
    heavy = MODEL.capacity > 0
    assert (found[heavy] == MODEL.capacity[heavy]).all()
    assert found[~heavy] / diagonal[~heavy] == pytest.approx(QUICK)

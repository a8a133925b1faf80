"""Sparse factors against dense solves, the orders they are made in, and what they refuse."""

import pickle
import re
from pathlib import Path

import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import given, settings
from hypothesis import strategies as st

from thermsim.case import load_case
from thermsim.model import available as there
from thermsim.model import memory
from thermsim.model.build import build
from thermsim.model.memory import MODEL_BYTES, TYPICAL_STACKING, factor_bytes, most_unknowns, too_large
from thermsim.solve import pardiso
from thermsim.solve.factor import Factor, NoPath, TooLarge, solve_near
from thermsim.solve.ordering import Layout, lay_out, layout_of, minimum_degree, plan_of, plan_order

CASES = Path(__file__).parents[2] / "cases"


def stack(sheets: int, rows: int, columns: int, lumps: int = 3, seed: int = 0):
    """Sheets joined face to face, lumps that each touch a band of cells, a stream through the lumps; and the plan."""
    rng = np.random.default_rng(seed)
    number = np.arange(sheets * rows * columns).reshape(sheets, rows, columns)
    ends = [
        np.stack((number[:-1].ravel(), number[1:].ravel())),
        np.stack((number[:, :-1].ravel(), number[:, 1:].ravel())),
        np.stack((number[:, :, :-1].ravel(), number[:, :, 1:].ravel())),
    ]
    cells, size = number.size, number.size + lumps
    column = np.r_[np.tile(np.arange(columns), sheets * rows), np.full(lumps, -1)]
    row = np.r_[np.tile(np.repeat(np.arange(rows), columns), sheets), np.full(lumps, -1)]
    for k in range(lumps):
        band = np.flatnonzero(column[:cells] * lumps // columns == k)
        ends.append(np.stack((band, np.full(band.size, cells + k))))
    first, second = np.concatenate(ends, axis=1)
    weight = rng.lognormal(0.0, 2.0, first.size)
    links = sp.coo_array((weight, (first, second)), shape=(size, size))
    matrix = links + links.T
    leak = np.zeros(size)
    leak[0] = 1.0
    matrix = sp.diags_array(matrix.sum(axis=1) + leak) - matrix
    flow = np.arange(cells, size)
    if lumps:  # each lump is fed by the one before it, the first from outside
        stream = sp.coo_array((np.full(lumps - 1, -5.0), (flow[1:], flow[:-1])), shape=(size, size))
        matrix = matrix + stream + sp.diags_array(np.where(np.arange(size) >= cells, 5.0, 0.0))
    return sp.csc_array(matrix), (column, row)


def given_order(order) -> Layout:
    """A layout with this order."""
    return Layout(lambda: order, 0.0)


def layouts(matrix, plan) -> dict[str, Layout]:
    """Every order there is."""
    size = matrix.shape[0]
    return {
        "as chosen": lay_out(matrix),
        "minimum degree": given_order(minimum_degree(matrix)),
        "nested dissection": given_order(plan_order(*plan)),
        "as numbered": given_order(np.arange(size)),
    }


boxes = st.tuples(st.integers(1, 4), st.integers(1, 9), st.integers(3, 12), st.integers(0, 3), st.integers(0, 99))


@given(boxes)
@settings(max_examples=25, deadline=None)
def test_every_order_gives_the_dense_solution(box):
    """LAPACK's dense solve is the check; the residual allows for rounding on widely spread conductances."""
    matrix, plan = stack(*box)
    right = np.random.default_rng(box[-1]).normal(size=matrix.shape[0])
    expected = np.linalg.solve(matrix.toarray(), right)
    for name, layout in layouts(matrix, plan).items():
        assert np.array_equal(np.sort(layout.order), np.arange(right.size)), name
        found = Factor(matrix, layout).solve(right)
        assert found == pytest.approx(expected, abs=1e-7 * np.abs(expected).max()), name


def entries(matrix, order) -> float:
    """How many entries a factor has that is made in an order."""
    return Factor(matrix, given_order(order), pardiso=False).bytes / 12


@pytest.fixture(scope="module")
def large():
    """Some 60 000 unknowns in three sheets."""
    return stack(3, 120, 166)


def test_nested_dissection_fills_little_more_than_minimum_degree(large):
    matrix, plan = large
    least = entries(matrix, lay_out(matrix).order)
    assert least < entries(matrix, plan_order(*plan)) < 1.5 * least
    # as many as the law has it, to half as much
    assert 12 * least < factor_bytes(matrix.shape[0], 3.0) < 1.5 * 12 * least


def test_a_line_of_the_plan_is_eliminated_after_both_its_sides(large):
    """The last cells are one line across the shorter side, through all sheets; then the lumps."""
    _, (column, row) = large
    order = plan_order(column, row)
    assert np.all(column[order[-3:]] == -1)
    line = order[-3 - 3 * 120 : -3]
    assert set(column[line]) == {82}
    assert set(row[line]) == set(range(120))


def test_widely_coupled_nodes_come_last(large):
    matrix, _ = large
    assert set(lay_out(matrix).order[-3:]) == set(range(matrix.shape[0] - 3, matrix.shape[0]))


def test_a_full_matrix_is_solved_too():
    """Where every unknown touches every other, none is left to order."""
    matrix = np.full((40, 40), -1.0) + np.diag(np.full(40, 50.0))
    right = np.arange(40.0)
    assert Factor(sp.csc_array(matrix)).solve(right) == pytest.approx(np.linalg.solve(matrix, right), rel=1e-12)


def test_stacking_is_the_number_of_sheets_joined_face_to_face():
    for sheets in (1, 2, 3, 5):
        matrix, _ = stack(sheets, 60, 60, lumps=0)
        assert lay_out(matrix).stacking == pytest.approx(sheets, rel=0.15)


def test_large_stacks_are_dissected_and_loose_sheets_are_not(monkeypatch):
    monkeypatch.setattr("thermsim.solve.ordering.MANY", 5000)
    for sheets, dissected in ((1, False), (4, True)):
        matrix, plan = stack(sheets, 80, 90)
        assert np.array_equal(lay_out(matrix, plan).order, plan_order(*plan)) == dissected


@pytest.fixture(scope="module")
def model():
    """A case with sheets of unlike size, parts, air and coolant."""
    return build(load_case(CASES / "digitiser", "hybrid"))


def test_a_model_is_laid_out_once(model):
    layout = layout_of(model)
    assert layout_of(model) is layout
    assert layout.cell == model.case.spec.run.cell
    assert np.array_equal(np.sort(layout.order), np.arange(model.node_count))


def test_the_plan_of_a_model_is_where_its_cells_lie(model):
    """Conduction joins neighbours of the plan; radiation joins sheets of unlike size at one spot."""
    column, row = plan_of(model)
    seen = {"conduction": 0, "radiation": 0}
    for group in model.groups:
        inside = group.sender < model.node_count
        one, other = group.receiver[inside], group.sender[inside]
        apart = np.abs(column[one] - column[other]) + np.abs(row[one] - row[other])
        apart = apart[(column[one] >= 0) & (column[other] >= 0)]
        if group.kind in seen:
            assert np.all(apart == (1 if group.kind == "conduction" else 0))
            seen[group.kind] += apart.size
    assert seen["conduction"] > 1.5 * model.node_count
    assert seen["radiation"] > 0.4 * model.node_count
    assert (column < 0).sum() == model.node_count - sum((s.node >= 0).sum() for s in model.site.sheets.values())


def test_a_matrix_near_by_is_solved_with_an_old_factor(large):
    matrix, _ = large
    rng = np.random.default_rng(1)
    size = matrix.shape[0]
    factor = Factor(matrix)
    near = sp.csc_array(matrix + sp.diags_array(1e-3 * rng.random(size)))
    right = rng.normal(size=size)
    solution = solve_near(factor, near, right, 1e-9)
    assert np.linalg.norm(near @ solution - right) < 2e-9 * np.linalg.norm(right)
    assert 2 < factor.solves < 40
    far = sp.csc_array(sp.diags_array(10.0 ** rng.uniform(-4, 4, size)))
    assert solve_near(factor, far, right, 1e-9) is None


def test_no_heat_makes_no_change():
    matrix, _ = stack(2, 5, 5)
    assert not solve_near(Factor(matrix), matrix, np.zeros(matrix.shape[0]), 1e-3).any()


@pytest.mark.parametrize("which", ["zero row", "not finite"])
def test_a_matrix_without_a_way_out_is_refused(which):
    matrix = np.diag([1.0, 2.0, 0.0]) if which == "zero row" else np.diag([1.0, 2.0, 1e-320])
    with pytest.raises(NoPath):
        Factor(sp.csc_array(matrix)).solve(np.ones(3))


def available(monkeypatch, count: float) -> None:
    """Let the machine have so many bytes."""
    monkeypatch.setattr(memory, "available_bytes", lambda: count)


def test_too_large_tells_what_is_needed_what_there_is_and_what_to_do(monkeypatch, model):
    available(monkeypatch, 10e6)
    with pytest.raises(TooLarge) as caught:
        Factor(model.square(model.matrix(model.strengths(now(model)))), layout_of(model))
    assert caught.value.exit_status == 3
    assert str(caught.value) == (
        "16,513 unknowns need about 20 MB of memory, and 10 MB is available; "
        "run.cell = 5.3 mm in place of 4 mm gives about 9,400 unknowns and needs 9.8 MB"
    )
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


def now(model):
    """Conditions at the start of a model."""
    return model.conditions(model.start(), model.program.at(0.0, {}))


def test_size_can_be_judged_before_a_model_is_built(monkeypatch):
    available(monkeypatch, 4e9)
    assert too_large(900_000, TYPICAL_STACKING, 1e-3) is None
    told = too_large(900_000, TYPICAL_STACKING, 1e-3, MODEL_BYTES)
    assert re.search(r"is available; run\.cell = 1\.\d mm in place of 1 mm", told)
    told = too_large(4_000_000, TYPICAL_STACKING, None)
    assert "a run.cell twice as large gives about 1,000,000 unknowns" in told


def test_what_is_advised_would_fit():
    for available_bytes, stacking in ((1e8, 1.0), (4e9, 2.0), (6e10, 4.0)):
        most = most_unknowns(available_bytes, stacking, 500.0)
        assert factor_bytes(most, stacking) + 500 * most <= available_bytes
        assert factor_bytes(most + 1, stacking) + 500 * (most + 1) > available_bytes


def test_memory_that_runs_out_all_the_same_is_told(monkeypatch):
    def out_of_memory(*_, **__):
        raise MemoryError

    monkeypatch.setenv("THERMSIM_PARDISO", "0")
    monkeypatch.setattr("thermsim.solve.factor.spl.splu", out_of_memory)
    with pytest.raises(TooLarge, match=r"memory ran out over 53 unknowns"):
        Factor(stack(2, 5, 5)[0])


def test_available_memory_is_read_where_the_system_tells(monkeypatch, tmp_path):
    told = tmp_path / "meminfo"
    told.write_text("MemTotal:       100 kB\nMemAvailable:   64 kB\n")
    monkeypatch.setattr(there, "CGROUP", tmp_path / "none")
    monkeypatch.setattr(there, "MEMINFO", told)
    assert there.available_bytes() == 65536
    monkeypatch.setattr(there, "MEMINFO", tmp_path / "none")
    monkeypatch.setattr(there.os, "sysconf", {"SC_PAGE_SIZE": 4096, "SC_PHYS_PAGES": 10}.__getitem__, raising=False)
    assert there.available_bytes() == 40960
    monkeypatch.delattr(there.os, "sysconf")
    assert there.available_bytes() == float("inf")


@pytest.mark.parametrize(
    ("asked", "unknowns", "there", "wanted"),
    [
        ("", 99_999, True, False), ("", 100_000, True, True), ("", 100_000, False, False),
        ("0", 100_000, True, False), ("1", 5, False, True),
    ],
)  # fmt: skip
def test_pardiso_is_taken_for_many_unknowns_or_as_asked(monkeypatch, asked, unknowns, there, wanted):
    monkeypatch.setenv("THERMSIM_PARDISO", asked)
    monkeypatch.setattr(pardiso, "is_there", lambda: there)
    assert pardiso.is_wanted(unknowns) == wanted


def test_pardiso_gives_the_same_solutions(monkeypatch):
    pytest.importorskip("pypardiso")
    monkeypatch.setenv("THERMSIM_PARDISO", "1")
    matrix, _ = stack(3, 50, 60)
    twice = sp.csc_array(matrix + 2 * sp.diags_array(matrix.diagonal()))
    right = np.random.default_rng(0).normal(size=matrix.shape[0])
    theirs = [Factor(matrix), Factor(twice)]  # two at a time
    ours = [Factor(matrix, pardiso=False), Factor(twice, pardiso=False)]
    for one, other in zip(theirs, ours, strict=True):
        expected = other.solve(right)
        assert type(one._lu) is not type(other._lu)
        assert one.solve(right) == pytest.approx(expected, abs=1e-9 * np.abs(expected).max())
        assert 0.5 * other.bytes < one.bytes < 3 * other.bytes
    with pytest.raises(NoPath):  # two nodes that only know each other
        Factor(sp.csc_array(np.array([[1.0, -1.0, 0.0], [-1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])))

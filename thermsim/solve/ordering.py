"""The order in which unknowns are eliminated: it decides how much a factor fills in.

Nodes that touch very many others (air over a whole sheet) come last: left among the rest they only slow the search.
The rest go by minimum degree, except that large boxes whose sheets are joined face to face are cut up by
nested dissection of the plan (George, 1973), where minimum degree begins to lose.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from thermsim.model.arrays import Ints
from thermsim.model.system import Model, Pattern

FEW_LINKS = 16  # no node with fewer is put last
PLANE_ENTRIES = 5  # of a cell's column: itself and its neighbours in the plane
DEEPEST = 0.9  # links from sheet to sheet per unknown that are still believed
LEAF = 32  # cells of a box of the plan that is not cut further
# where nested dissection beat minimum degree, on boxes of one to six sheets: unknowns, and `Layout.through`
MANY, JOINED = 300_000, 0.6


@dataclass(frozen=True)
class Layout:
    """How the matrices of one pattern are to be factored.

    `search` finds `order`. `through`: links from sheet to sheet per unknown, which is (s − 1)/s where s sheets are
    joined face to face. `cell`: the grid's, m, to advise on.
    """

    search: Callable[[], Ints]
    through: float
    cell: float | None = None

    @cached_property
    def order(self) -> Ints:
        """Unknowns, first eliminated first, shape (n,); searched for on first use, since not every solver asks."""
        return self.search()

    @property
    def stacking(self) -> float:
        """How many sheets, joined face to face, fill in as this does."""
        return 1 / (1 - self.through)


def layout_of(model: Model) -> Layout:
    """The layout for all matrices of a model, worked out on first use and kept as long as its pattern lives."""
    found = _layouts.get(model.pattern)
    if found is None:
        pattern = model.pattern
        square = model.square(sp.csc_array((pattern.base, pattern.indices, pattern.indptr), shape=pattern.shape))
        found = _layouts[pattern] = lay_out(square, plan_of(model), model.case.spec.run.cell)
    return found


_layouts: WeakKeyDictionary[Pattern, Layout] = WeakKeyDictionary()


def plan_of(model: Model) -> tuple[Ints, Ints]:
    """Column and row on the common grid of every node, shape (nodes,); −1 where a node has no place in plan."""
    column, row = np.full(model.node_count, -1), np.full(model.node_count, -1)
    for sheet in model.site.sheets.values():
        rows, columns = np.nonzero(sheet.node >= 0)
        node = sheet.node[rows, columns]
        column[node], row[node] = columns + sheet.columns.start, rows + sheet.rows.start
    return column, row


def lay_out(matrix: sp.csc_array, plan: tuple[Ints, Ints] | None = None, cell: float | None = None) -> Layout:
    """The layout for a pattern; `plan`: columns and rows as `plan_of` gives them."""
    size = matrix.shape[0]
    degree = np.maximum(np.diff(matrix.indptr), np.bincount(matrix.indices, minlength=size))
    wide = degree > max(FEW_LINKS, np.sqrt(size))
    narrow = int(size - wide.sum())
    among = int((~wide[matrix.indices] & ~np.repeat(wide, np.diff(matrix.indptr))).sum())
    through = min(max((among / max(narrow, 1) - PLANE_ENTRIES) / 2, 0.0), DEEPEST)

    def search() -> Ints:
        if plan is not None and size > MANY and through > JOINED:
            return plan_order(*plan)
        first = np.flatnonzero(~wide)
        order: Ints = np.r_[first[minimum_degree(matrix[first][:, first])], np.flatnonzero(wide)]
        return order

    return Layout(search, through, cell)


def minimum_degree(matrix: sp.csc_array) -> Ints:
    """Multiple minimum degree (Liu, 1985) on the pattern of A + Aᵀ, shape (n,).

    SciPy gives no ordering without a factorisation; one that drops all it may costs next to nothing.
    """
    size = matrix.shape[0]
    pattern = sp.csc_array((np.full(matrix.nnz, -1.0), matrix.indices, matrix.indptr), shape=matrix.shape)
    dominant = sp.csc_matrix(pattern + sp.diags_array(np.full(size, size + 1.0)))
    factor = spl.spilu(
        dominant, drop_tol=1.0, fill_factor=1.0, drop_rule="basic", permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )  # fmt: skip
    order: Ints = np.argsort(factor.perm_c)
    return order


def plan_order(column: Ints, row: Ints) -> Ints:
    """Nested dissection by columns and rows of the plan, shape (n,); nodes with −1 come last.

    All sheets share the grid, so that one line of the plan cuts them all. Each box of the plan is cut across its
    longer side by the line that leaves the most even halves, and the line is eliminated after both.
    """
    placed = column >= 0
    if not placed.any():
        return np.arange(column.size)
    width, height = int(column[placed].max()) + 1, int(row[placed].max()) + 1
    spot = np.where(placed, row * width + column, width * height)
    weights = np.bincount(spot[placed], minlength=width * height).reshape(height, width)
    boxes = [(np.arange(width * height).reshape(height, width), weights)]
    pieces: list[Ints] = []  # of the plan, last to be eliminated first
    while boxes:
        spots, weights = boxes.pop()
        if spots.shape[0] < spots.shape[1]:
            spots, weights = spots.T, weights.T
        lines = weights.sum(axis=1)
        before = np.cumsum(lines) - lines
        after = lines.sum() - lines - before
        if lines.sum() <= LEAF or lines.size < 3:
            pieces.append(spots.ravel())
            continue
        cut = int(np.minimum(before, after).argmax())
        pieces.append(spots[cut])
        boxes += [(spots[:cut], weights[:cut]), (spots[cut + 1 :], weights[cut + 1 :])]
    position = np.empty(width * height + 1, dtype=np.int64)
    position[np.concatenate(pieces)[::-1]] = np.arange(width * height)
    position[-1] = width * height
    order: Ints = np.argsort(position[spot], kind="stable")
    return order

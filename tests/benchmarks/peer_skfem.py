"""scikit-fem: bilinear quadrilaterals on the same grid, parts and air added as rows, a kept SuperLU factor."""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from tests.benchmarks.box import CHIPS, GAPS, LAYERS, ROOM_DEGC, SEGMENTS, SIZE, Floats, air, box, gap, plan
from tests.benchmarks.linear import Linear
from tests.benchmarks.stepping import ERRATIC
from thermsim.solve.factor import Factor

REQUIRES = "skfem"


def assemble(unknowns: int) -> Linear:
    """The whole box by finite elements: lid, board, base, then parts, then air segments."""
    import skfem

    case = box(unknowns)
    drawn = plan(case)
    mesh = skfem.MeshQuad.init_tensor(drawn.x, drawn.y)
    basis = skfem.Basis(mesh, skfem.ElementQuad1())
    centre = mesh.p[:, mesh.t].mean(axis=1)
    column, row = (np.searchsorted(lines, at) - 1 for lines, at in zip((drawn.x, drawn.y), centre, strict=True))

    def over(form: Any, cells: Floats | float) -> Any:
        """A form weighted cell by cell."""
        weight = np.broadcast_to(cells, (drawn.y.size - 1, drawn.x.size - 1))[row, column]
        return skfem.asm(form, basis, weight=np.broadcast_to(weight[:, None], basis.dx.shape))

    mass = skfem.BilinearForm(lambda u, v, w: w.weight * u * v)
    stiffness = skfem.BilinearForm(lambda u, v, w: w.weight * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]))
    area = skfem.LinearForm(lambda v, w: w.weight * v)

    names, size = list(LAYERS), basis.N
    total = 3 * size + len(CHIPS) + SEGMENTS
    first = {name: k * size for k, name in enumerate(names)}
    m_blocks: list[Any] = []
    k_blocks: list[Any] = []
    load = np.zeros(total)
    each, plain = over(mass, 1.0), over(area, 1.0)

    def put(blocks: list[Any], block: Any, down: int, right: int) -> None:
        entries = sp.coo_array(block)
        blocks.append((entries.row + down, entries.col + right, entries.data))

    for name, layer in LAYERS.items():
        put(m_blocks, over(mass, drawn.stored[name]), first[name], first[name])
        films = layer.film(layer.to_room) + layer.film(layer.to_air)
        put(k_blocks, over(stiffness, drawn.plane[name]) + films * each, first[name], first[name])
        load[first[name] : first[name] + size] += layer.film(layer.to_room) * ROOM_DEGC * plain
    for one, other in GAPS:
        for a, b, sign in ((one, one, 1), (other, other, 1), (one, other, -1), (other, one, -1)):
            put(k_blocks, sign * gap((one, other)) * each, first[a], first[b])
    for k, (name, chip) in enumerate(CHIPS.items(), 3 * size):
        under = drawn.footprints[name] / chip.area / chip.resistance
        put(k_blocks, over(mass, under), first["board"], first["board"])
        _join(put, k_blocks, over(area, under), first["board"], k)
        put(k_blocks, [[1 / chip.resistance]], k, k)
        put(m_blocks, [[chip.capacity]], k, k)
        load[k] = chip.watts
    capacity, rate = air(case)
    along = np.clip(((drawn.x[1:] + drawn.x[:-1]) / 2 / (SIZE[0] / 1e3) * SEGMENTS).astype(int), 0, SEGMENTS - 1)
    for segment in range(SEGMENTS):
        k = 3 * size + len(CHIPS) + segment
        over_it = over(area, (along == segment).astype(float)[None, :])
        put(m_blocks, [[capacity]], k, k)
        put(k_blocks, [[rate]], k, k)
        if segment:
            put(k_blocks, [[-rate]], k, k - 1)
        else:
            load[k] = rate * ROOM_DEGC
        for name, layer in LAYERS.items():
            coefficient = layer.film(layer.to_air)
            if coefficient:
                _join(put, k_blocks, coefficient * over_it, first[name], k)
                put(k_blocks, [[coefficient * over_it.sum()]], k, k)

    def whole(blocks: list[Any]) -> sp.csc_array:
        rows, columns, data = (np.concatenate(part) for part in zip(*blocks, strict=True))
        matrix = sp.coo_array((data, (rows, columns)), shape=(total, total)).tocsc()
        matrix.eliminate_zeros()
        return sp.csc_array(matrix)

    return Linear(whole(m_blocks), whole(k_blocks), load, np.full(total, ROOM_DEGC))


def _join(put: Any, blocks: list[Any], weights: Floats, sheet: int, node: int) -> None:
    """What a sheet and a lumped node take from each other."""
    put(blocks, -weights[:, None], sheet, node)
    put(blocks, -weights[None, :], node, sheet)


class SkfemBox:
    """The assembled box with SciPy's `splu` as a script would call it."""

    option: str | None = None
    said = ERRATIC

    def __init__(self, unknowns: int) -> None:
        self._system = assemble(unknowns)

    def begin(self, step: float) -> None:
        """Factor M/step + K."""
        self.step = step
        self.solve = self._solver(self._system.shifted(step))
        self.state = self._system.start

    def _solver(self, matrix: sp.csc_array) -> Any:
        return spl.splu(matrix).solve

    def advance(self) -> None:
        """One backward Euler step."""
        self.state = self.solve(self._system.mass @ self.state / self.step + self._system.load)

    def field(self) -> Floats:
        """Nodes of lid, board and base, parts, air."""
        return self.state

    def system(self) -> Linear:
        """What was assembled."""
        return self._system


class SkfemOrdered(SkfemBox):
    """The same with thermsim's ordering."""

    said = ""

    def _solver(self, matrix: sp.csc_array) -> Any:
        return Factor(matrix).solve

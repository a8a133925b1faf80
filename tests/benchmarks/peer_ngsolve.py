"""NGSolve: bilinear quadrilaterals on the same grid, parts as numbers, its own sparse Cholesky factor.

The air stream would make the matrix unsymmetric, so the air inside stays at the room's temperature.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import scipy.sparse as sp

from tests.benchmarks.box import CHIPS, GAPS, LAYERS, ROOM_DEGC, Floats, Plan, box, gap, plan
from tests.benchmarks.linear import Linear

REQUIRES = "ngsolve"


def tensor_mesh(drawn: Plan) -> Any:
    """Quadrilaterals between the grid lines, row by row; the cells under a part are a material of its name."""
    import ngsolve
    from netgen.meshing import Element1D, Element2D, FaceDescriptor, Mesh, MeshPoint, Pnt

    mesh = Mesh(dim=2)
    points = [[mesh.Add(MeshPoint(Pnt(x, y, 0))) for x in drawn.x] for y in drawn.y]
    names = ["bare", *CHIPS]
    for k, name in enumerate(names, 1):
        mesh.Add(FaceDescriptor(surfnr=k, domin=k, bc=k))
        mesh.SetMaterial(k, name)
    kind = np.ones((drawn.y.size - 1, drawn.x.size - 1), dtype=int)
    for k, name in enumerate(CHIPS, 1):
        kind += k * drawn.footprints[name].astype(int)
    rows, columns = kind.shape
    for j in range(rows):
        for i in range(columns):
            corners = [points[j][i], points[j][i + 1], points[j + 1][i + 1], points[j + 1][i]]
            mesh.Add(Element2D(int(kind[j, i]), corners))
    rim = [points[0], points[-1], [row[0] for row in points], [row[-1] for row in points]]
    for line in rim:
        for one, other in pairwise(line):
            mesh.Add(Element1D([one, other], index=1))
    return ngsolve.Mesh(mesh)


class NgsolveBox:
    """The box without its air stream."""

    option = "no stream"
    said = "no air stream"

    def __init__(self, unknowns: int) -> None:
        import ngsolve as ng

        drawn = plan(box(unknowns, self.option))
        mesh = tensor_mesh(drawn)
        sheet = ng.H1(mesh, order=1)
        space = sheet * sheet * sheet
        for name in CHIPS:
            space = space * ng.NumberSpace(mesh, definedon=mesh.Materials(name))
        trial, test = space.TnT()
        u, v = (dict(zip([*LAYERS, *CHIPS], functions, strict=True)) for functions in (trial, test))

        def cells(values: Floats) -> Any:
            function = ng.GridFunction(ng.L2(mesh, order=0))
            function.vec.FV().NumPy()[:] = values.ravel()
            return function

        self.mass, self.stiffness = ng.BilinearForm(space, symmetric=True), ng.BilinearForm(space, symmetric=True)
        self.load = ng.LinearForm(space)
        for name, layer in LAYERS.items():
            films = layer.film(layer.to_room) + layer.film(layer.to_air)
            self.mass += cells(drawn.stored[name]) * u[name] * v[name] * ng.dx
            self.stiffness += cells(drawn.plane[name]) * ng.grad(u[name]) * ng.grad(v[name]) * ng.dx
            self.stiffness += films * u[name] * v[name] * ng.dx
            self.load += films * ROOM_DEGC * v[name] * ng.dx
        for one, other in GAPS:
            self.stiffness += gap((one, other)) * (u[one] - u[other]) * (v[one] - v[other]) * ng.dx
        for name, chip in CHIPS.items():
            here, area = ng.dx(definedon=mesh.Materials(name)), chip.area
            self.mass += chip.capacity / area * u[name] * v[name] * here
            self.stiffness += 1 / chip.resistance / area * (u["board"] - u[name]) * (v["board"] - v[name]) * here
            self.load += chip.watts / area * v[name] * here
        for form in (self.mass, self.stiffness, self.load):
            form.Assemble()
        self.state = self.stiffness.mat.CreateColVector()
        self.right = self.stiffness.mat.CreateColVector()

    def begin(self, step: float) -> None:
        """Factor M/step + K."""
        total = self.stiffness.mat.CreateMatrix()
        total.AsVector().data = self.stiffness.mat.AsVector() + 1 / step * self.mass.mat.AsVector()
        self.step = step
        self.inverse = total.Inverse(inverse="sparsecholesky")
        self.state.FV().NumPy()[:] = ROOM_DEGC

    def advance(self) -> None:
        """One backward Euler step."""
        self.right.data = self.load.vec + 1 / self.step * (self.mass.mat * self.state)
        self.state.data = self.inverse * self.right

    def field(self) -> Floats:
        """Nodes of lid, board and base, then parts."""
        return np.asarray(self.state.FV().NumPy())

    def system(self) -> Linear:
        """Its matrices, read out."""
        mass, stiffness = (_read(form.mat) for form in (self.mass, self.stiffness))
        return Linear(mass, stiffness, self.load.vec.FV().NumPy().copy(), np.full(mass.shape[0], ROOM_DEGC))


def _read(matrix: Any) -> sp.csc_array:
    rows, columns, data = matrix.COO()
    half = sp.coo_array((np.asarray(data), (np.asarray(rows), np.asarray(columns))), shape=matrix.shape)
    if (half.row >= half.col).all():  # a symmetric form keeps one half
        half = half + sp.tril(half, -1).T
    return sp.csc_array(half)

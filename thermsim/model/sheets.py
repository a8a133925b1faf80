"""Sheets on the common grid: cells, their properties and conduction in the plane."""

import logging
import os
import sys
import warnings
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermsim.case.materials import material
from thermsim.case.schema import Spec
from thermsim.case.solid import Patch, Sheet
from thermsim.model.arrays import Floats, Ints
from thermsim.model.grid import Grid
from thermsim.model.links import Builder, LinkGroup
from thermsim.physics.boards import stackup_conductivity, stackup_heat_capacity

ON_LINE = 1e-9  # m, from a grid line, within which a point is taken to lie on it
_ONE_IMPORTS = Lock()  # threads that run cases side by side import FiPy in turn


@dataclass(frozen=True)
class SheetCells:
    """A sheet on the grid; all 2-D arrays have shape (rows, columns) of its bounding rectangle.

    `node`: node number of each cell, −1 where the sheet has none. `half`: through resistance of half the
    thickness, m²K/W. `sheet_x`, `sheet_y`: conductivity times thickness, W/K.
    """

    name: str
    rows: slice
    columns: slice
    x: Floats
    y: Floats
    node: Ints
    thickness: Floats
    sheet_x: Floats
    sheet_y: Floats
    half: Floats

    @property
    def area(self) -> Floats:
        """Cell areas, m², shape (rows, columns)."""
        return np.outer(np.diff(self.y), np.diff(self.x))

    @property
    def centres(self) -> tuple[Floats, Floats]:
        """Cell centres: x of shape (columns,), y of shape (rows,)."""
        return (self.x[1:] + self.x[:-1]) / 2, (self.y[1:] + self.y[:-1]) / 2

    def inside(self, corner: tuple[float, float] | None, size: tuple[float, float] | None) -> NDArray[np.bool_]:
        """Cells with a node whose centre lies in the rectangle (the whole sheet without one)."""
        active = self.node >= 0
        if corner is None or size is None:
            return active
        x, y = self.centres
        in_x = (x > corner[0]) & (x < corner[0] + size[0])
        in_y = (y > corner[1]) & (y < corner[1] + size[1])
        return active & in_y[:, None] & in_x[None, :]

    def cell_at(self, x: float, y: float) -> int:
        """Node of the cell that holds a point (nearest in the sheet's rectangle), −1 in a hole."""
        column = int(np.clip(np.searchsorted(self.x, x) - 1, 0, self.x.size - 2))
        row = int(np.clip(np.searchsorted(self.y, y) - 1, 0, self.y.size - 2))
        return int(self.node[row, column])

    def cells_at(self, x: float, y: float) -> Ints:
        """Nodes of the cell that holds a point, or of all that meet there if it lies on a grid line; none in a hole."""
        around = [self.cell_at(x + dx, y + dy) for dx in (-ON_LINE, ON_LINE) for dy in (-ON_LINE, ON_LINE)]
        return np.unique([node for node in around if node >= 0]).astype(np.int64)


@dataclass(frozen=True)
class Laid:
    """A sheet that was laid: its cells and the links between them."""

    cells: SheetCells
    links: LinkGroup

    def conducts_by(self, other: SheetCells) -> float | None:
        """By which factor another sheet of the same cells conducts better; None if not by one throughout."""
        mine = np.stack((self.cells.sheet_x, self.cells.sheet_y))
        theirs = np.stack((other.sheet_x, other.sheet_y)) if np.array_equal(self.cells.node, other.node) else None
        if theirs is None:
            return None
        factor = float(theirs.max() / mine.max())
        return factor if np.allclose(theirs, factor * mine, rtol=1e-12, atol=0.0) else None


@dataclass(frozen=True)
class Properties:
    """k in x, y and through, W/mK; heat capacity, J/m³K."""

    x: float
    y: float
    through: float
    heat_density: float


def properties(stuff: Sheet | Patch, spec: Spec, base: Sheet) -> Properties:
    """Conductivities and heat capacity of a sheet, or of a patch (the rest as the sheet)."""
    if stuff.material is None and stuff.layers is None and stuff.conductivity is None and stuff is not base:
        return properties(base, spec, base)
    if stuff.material is not None:
        known = material(stuff.material, spec.material)
        plane = through = known.conductivity
        heat = known.density * known.cp
    elif stuff.layers is not None:
        layers = [(layer.thickness, layer.copper) for layer in stuff.layers]
        thickness = getattr(stuff, "thickness", None) or base.thickness
        plane, through = stackup_conductivity(layers, thickness)
        heat = stackup_heat_capacity(layers, thickness)
    else:
        assert stuff.conductivity is not None  # the case was checked
        plane = through = stuff.conductivity
        heat = stuff.heat_density or (0.0 if stuff is base else properties(base, spec, base).heat_density)
    return Properties(
        stuff.conductivity or plane,
        stuff.conductivity_y or stuff.conductivity or plane,
        stuff.conductivity_through or through,
        stuff.heat_density or heat,
    )


def add_sheet(
    builder: Builder, spec: Spec, grid: Grid, address: str, sheet: Sheet, before: Laid | None = None
) -> SheetCells:
    """Lay a sheet on the grid: nodes with heat capacity, and conduction between them.

    `before`: the sheet in a case where it has the same shape; its links serve again if it conducts better or worse by
    one factor throughout.
    """
    columns = grid.columns(sheet.corner[0], sheet.corner[0] + sheet.size[0])
    rows = grid.rows(sheet.corner[1], sheet.corner[1] + sheet.size[1])
    x, y = grid.x[columns.start : columns.stop + 1], grid.y[rows.start : rows.stop + 1]
    shape = (y.size - 1, x.size - 1)
    centre_x, centre_y = (x[1:] + x[:-1]) / 2, (y[1:] + y[:-1]) / 2

    def mask(piece: Any) -> NDArray[np.bool_]:
        in_x = (centre_x > piece.corner[0]) & (centre_x < piece.corner[0] + piece.size[0])
        in_y = (centre_y > piece.corner[1]) & (centre_y < piece.corner[1] + piece.size[1])
        where: NDArray[np.bool_] = in_y[:, None] & in_x[None, :]
        return where

    base = properties(sheet, spec, sheet)
    thickness = np.full(shape, sheet.thickness)
    k_x, k_y, through, heat = (np.full(shape, value) for value in (base.x, base.y, base.through, base.heat_density))
    for patch in sheet.patch.values():
        where, made_of = mask(patch), properties(patch, spec, sheet)
        thickness[where] = patch.thickness or sheet.thickness
        k_x[where], k_y[where] = made_of.x, made_of.y
        through[where], heat[where] = made_of.through, made_of.heat_density
    active = np.ones(shape, dtype=bool)
    for cutout in sheet.cutout.values():
        active &= ~mask(cutout)

    area = np.outer(np.diff(y), np.diff(x))
    capacity = heat * thickness * area
    if sheet.heat_capacity is not None:
        share = thickness * area * active
        capacity = sheet.heat_capacity * share / share.sum()
    node = np.full(shape, -1, dtype=np.int64)
    node[active] = builder.add_nodes(address, capacity[active])
    cells = SheetCells(
        address, rows, columns, x, y, node, thickness, k_x * thickness * active, k_y * thickness * active,
        thickness / 2 / through,
    )  # fmt: skip
    _conduct(builder, cells, before)
    return cells


def _conduct(builder: Builder, cells: SheetCells, before: Laid | None) -> None:
    """Add the in-plane links that FiPy's diffusion operator has (harmonic mean across unlike cells)."""
    if cells.node.size == 1:
        return
    factor = before.conducts_by(cells) if before else None
    if before and factor is not None:
        links = before.links
        builder.link(links.name, links.kind, links.receiver, links.sender, factor * links.weight)
        return
    first, second, conductance = plane_operator(cells)
    number = cells.node.ravel()
    builder.link(f"{cells.name} conduction", "conduction", number[first], number[second], conductance)


def plane_operator(cells: SheetCells) -> tuple[Ints, Ints, Floats]:
    """Pairs of neighbouring cells (flat index, x fastest) and the conductance between them, W/K."""
    fipy = quiet_fipy()
    mesh = fipy.Grid2D(dx=np.diff(cells.x), dy=np.diff(cells.y))
    normal = np.abs(mesh.faceNormals)

    def faces(values: Floats) -> Any:
        return fipy.CellVariable(mesh=mesh, value=values.ravel()).harmonicFaceValue.value

    coefficient = fipy.FaceVariable(
        mesh=mesh, value=normal[0] * faces(cells.sheet_x) + normal[1] * faces(cells.sheet_y)
    )
    equation = fipy.DiffusionTerm(coeff=coefficient) == 0
    equation.cacheMatrix()
    equation.justResidualVector(var=fipy.CellVariable(mesh=mesh, value=0.0))
    matrix = equation.matrix.matrix.tocoo()  # FiPy's sign: off-diagonals are positive
    upper = (matrix.row < matrix.col) & (matrix.data > 0)
    return (
        matrix.row[upper].astype(np.int64),
        matrix.col[upper].astype(np.int64),
        matrix.data[upper].astype(float),
    )


def quiet_fipy() -> ModuleType:
    """Import FiPy without letting it read our arguments, start programs, or keep a copy of the environment."""
    with _ONE_IMPORTS:
        return _import_fipy()


@lru_cache(maxsize=1)
def _import_fipy() -> ModuleType:
    kept_arguments, kept_path = sys.argv, os.environ.get("PATH")
    kept = {key: os.environ.pop(key) for key in list(os.environ) if key.startswith("FIPY_")}
    sys.argv = kept_arguments[:1]
    os.environ["FIPY_SOLVERS"] = "scipy"
    os.environ["PATH"] = ""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            logging.getLogger("fipy").setLevel(logging.INFO)
            import fipy
    finally:
        sys.argv = kept_arguments
        del os.environ["PATH"], os.environ["FIPY_SOLVERS"]
        if kept_path is not None:
            os.environ["PATH"] = kept_path
        os.environ.update(kept)
    fipy._fipy_environment.clear()  # it holds every environment variable, and may log them
    return fipy  # type: ignore[no-any-return]

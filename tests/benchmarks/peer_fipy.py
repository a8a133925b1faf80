"""FiPy: a plain script as its manual has it, three coupled equations and a loop of 2-second steps.

The parts enter as heat on their footprints and the air inside stays at the room's temperature: sheets alone.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.benchmarks.box import CHIPS, GAPS, LAYERS, ROOM_DEGC, Floats, box, gap, plan
from tests.benchmarks.linear import Linear
from tests.benchmarks.reference import system_of
from thermsim.model.build import build
from thermsim.model.sheets import quiet_fipy

REQUIRES = "fipy"


class FipyBox:
    """The sheets of the box as three coupled equations."""

    option = "sources"
    said = "parts as heat on footprints, no air stream"

    def __init__(self, unknowns: int) -> None:
        fipy = quiet_fipy()
        self.case = box(unknowns, self.option)
        drawn = plan(self.case)
        mesh = fipy.Grid2D(dx=np.diff(drawn.x), dy=np.diff(drawn.y))
        self.variables = {
            name: fipy.CellVariable(name=name, mesh=mesh, value=ROOM_DEGC, hasOld=True) for name in LAYERS
        }
        heat = sum(drawn.footprints[name] * chip.watts / chip.area for name, chip in CHIPS.items())
        coupled: Any = None
        for name, layer in LAYERS.items():
            var = self.variables[name]
            plane = fipy.CellVariable(mesh=mesh, value=drawn.plane[name].ravel()).harmonicFaceValue
            films = layer.film(layer.to_room) + layer.film(layer.to_air)
            right = fipy.DiffusionTerm(coeff=plane, var=var) - fipy.ImplicitSourceTerm(coeff=films, var=var)
            right = right + films * ROOM_DEGC
            if name == "board":
                right = right + fipy.CellVariable(mesh=mesh, value=np.ravel(heat))
            for between in GAPS:
                if name in between:
                    other = self.variables[between[between[0] == name]]
                    right = right + fipy.ImplicitSourceTerm(coeff=gap(between), var=other)
                    right = right - fipy.ImplicitSourceTerm(coeff=gap(between), var=var)
            stored = fipy.CellVariable(mesh=mesh, value=drawn.stored[name].ravel())
            equation = fipy.TransientTerm(coeff=stored, var=var) == right
            coupled = equation if coupled is None else coupled & equation
        self.equation = coupled
        self.step = 0.0

    def begin(self, step: float) -> None:
        """Everything at the room's temperature."""
        self.step = step
        for var in self.variables.values():
            var.setValue(ROOM_DEGC)
            var.updateOld()

    def advance(self) -> None:
        """One step, as in the manual."""
        for var in self.variables.values():
            var.updateOld()
        self.equation.solve(dt=self.step)

    def field(self) -> Floats:
        """Cells of lid, board and base, as thermsim numbers them."""
        return np.concatenate([var.value for var in self.variables.values()])

    def system(self) -> Linear:
        """thermsim's matrices: FiPy's are the same finite volumes on the same grid."""
        return system_of(build(self.case))

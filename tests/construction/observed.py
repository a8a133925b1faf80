"""Observed orders of accuracy, and manufactured heat put into a model's nodes."""

import itertools
from collections.abc import Callable, Iterable
from math import log2

import numpy as np
import scipy.sparse as sp

from thermsim.model.arrays import Floats
from thermsim.model.system import Model

MADE = {"made": {"on": "sheet.s", "watts": "1 W"}}  # the source that `heated` spreads


def orders(errors: Iterable[float]) -> list[float]:
    """Orders between errors on grids (or steps) each half of the one before."""
    return [log2(coarse / fine) for coarse, fine in itertools.pairwise(errors)]


def assert_order(error: Callable[[int], float], sizes: Iterable[int], least: float, most: float = np.inf) -> None:
    """The errors at sizes doubled each time fall with an order between two bounds."""
    errors = [error(size) for size in sizes]
    found = orders(errors)
    assert least <= min(found), (errors, found)
    assert max(found) <= most, (errors, found)


def heated(model: Model, watts: Floats) -> Model:
    """The model with the one watt of the source `made` spread as given, W in each node (shape (nodes,))."""
    (column,) = np.flatnonzero(model.program.at(0.0, {}).watts == 1.0)
    heat = sp.lil_array(model.program.heat)
    heat[:, [column]] = watts[:, None]
    model.program.heat = sp.csc_array(heat)
    return model


def on_sheet(model: Model, per_area: Floats, address: str = "sheet.s") -> Floats:
    """Watts in each node from W/m² on a sheet's cells (shape (rows, columns))."""
    cells = model.site.sheets[address]
    watts = np.zeros(model.node_count)
    watts[cells.node] = per_area * cells.area
    return watts

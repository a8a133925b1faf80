"""The linear system of a case as thermsim assembles it, and its fine reference, kept on disk."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from tests.benchmarks.box import END
from tests.benchmarks.linear import TIMES, Linear, Sampler, fine_fields
from thermsim.case.case import Case
from thermsim.model.build import build
from thermsim.model.system import Model
from thermsim.solve.transient import Transient

FOLDER = Path(__file__).parents[2] / "outputs" / "benchmarks"


def system_of(model: Model) -> Linear:
    """C, K and P of a model whose laws do not depend on temperature; given temperatures go into P."""
    start = model.start()
    inputs = model.program.at(0.0, {})
    matrix = model.matrix(model.strengths(model.conditions(start, inputs)))
    stiffness = model.square(matrix)
    load = model.imbalance(matrix, start, inputs) + stiffness @ start
    return Linear(sp.csc_array(sp.diags_array(model.capacity)), stiffness, load, start)


def closely_stepped(model: Model) -> NDArray[np.float32]:
    """For what is not linear: thermsim's own steps at a thousandth of the tolerance, a tenth of the length."""
    history, sampler = Transient.of(model, model.case.spec.run.tolerance / 1000), Sampler(model.start())
    for step in history.steps(END):
        sampler.take(step.first.time, step.last.time, step.at)
    return sampler.fields


def reference(case: Case, folder: Path = FOLDER) -> NDArray[np.float32]:
    """Fields of a case at `TIMES`, shape (times, nodes), read from `folder` if they are there."""
    path = folder / f"reference-{case.fingerprint()[:16]}.npz"
    if path.exists():
        with np.load(path) as kept:
            if np.array_equal(kept["times"], TIMES):
                return np.asarray(kept["fields"])
    model = build(case)
    fields = closely_stepped(model) if case.spec.governor else fine_fields(system_of(model))
    folder.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(".part.npz")
    np.savez(partial, times=TIMES, fields=fields)
    partial.replace(path)
    return fields

"""The slowest time constant of a box, at the strengths of a steady state."""

from __future__ import annotations

import numpy as np

from thermsim.model.system import Model
from thermsim.solve.factor import Factor
from thermsim.solve.ordering import layout_of
from thermsim.solve.steady import Steady

MOST_TURNS = 60
ENOUGH = 1e-4


def slowest_time_constant(model: Model, steady: Steady) -> float:
    """Time constant (s) of the slowest mode with speeds and films held, by inverse iteration on K⁻¹C."""
    factor = Factor(model.square(model.matrix(steady.strengths)), layout_of(model))
    shape = np.ones(model.node_count)
    tau = 0.0
    for _ in range(MOST_TURNS):
        ahead = factor.solve(model.capacity * shape)
        before, tau = tau, float(np.abs(ahead).max() / np.abs(shape).max())
        shape = ahead / np.abs(ahead).max()
        if abs(tau - before) < ENOUGH * tau:
            break
    return tau

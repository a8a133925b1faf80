"""Anderson's mixing of fixed-point steps (Walker & Ni 2011): the memory of a few steps makes the next one better."""

from __future__ import annotations

import numpy as np

from thermsim.model.arrays import Floats

DEPTH = 4


class Anderson:
    """Turns the plain steps of an iteration into better ones."""

    def __init__(self) -> None:
        self._states: list[Floats] = []
        self._steps: list[Floats] = []

    def next(self, state: Floats, step: Floats) -> Floats:
        """Where to go from a state for which the plain iteration gives a step."""
        self._states.append(state)
        self._steps.append(step)
        del self._states[: -DEPTH - 1], self._steps[: -DEPTH - 1]
        going: Floats = state + step
        if len(self._steps) > 1:
            steps = np.diff(self._steps, axis=0)
            share = np.linalg.lstsq(steps @ steps.T, steps @ step, rcond=1e-12)[0]
            going = going - share @ (np.diff(self._states, axis=0) + steps)
        return going

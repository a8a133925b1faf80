"""What the steppers step: capacities, heat balance and factors of a model, or of its image in a reduced basis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.model.operating import Conditions
from thermsim.model.program import Inputs
from thermsim.model.system import Model
from thermsim.solve.factor import Factor
from thermsim.solve.governors import GovernorLaw, governor_laws
from thermsim.solve.ordering import layout_of

if TYPE_CHECKING:
    from thermsim.solve.tr_bdf2 import Step

FAR = 2.0
MOST_ROUNDS = 20  # to bring massless nodes into balance


class Solver(Protocol):
    """Factors of a matrix."""

    @property
    def bytes(self) -> float:
        """Memory held."""

    def solve(self, right: Floats) -> Floats:
        """Solution for one right-hand side."""


@dataclass(frozen=True)
class Watch:
    """Nodes whose maximum is watched, or their mean if each has a share."""

    nodes: Ints
    shares: Floats | None = None


class Readings(Protocol):
    """Reads what is watched out of states."""

    def of(self, step: Step, times: Floats) -> Floats:
        """Values at times within a step, shape (times, watches)."""


class Dynamics(Protocol):
    """C dx/dt = heat(x): `x` holds temperatures (°C), or the coordinates of a field in a reduced basis.

    `capacity`: of each unknown. `linear`: whether K never moves, so that one correction is exact. An operator (the
    first of what `balance` gives) holds K at the strengths of one state.
    """

    model: Model
    laws: list[GovernorLaw]
    capacity: Floats
    linear: bool

    def balance(self, x: Floats, inputs: Inputs) -> tuple[Any, Floats]:
        """The operator at a state, and the heat left to store in each unknown (W)."""

    def left(self, operator: Any, x: Floats, inputs: Inputs) -> Floats:
        """The heat left to store (W) at the strengths of an operator."""

    def factor(self, operator: Any, span: float) -> Solver:
        """Factors of C/span + K."""

    def mark(self, operator: Any) -> Floats:
        """What to remember of an operator that is factored, to tell later ones that are far from it."""

    def strayed(self, mark: Floats, operator: Any, span: float) -> bool:
        """Whether an operator is too far from a factored one for the factor to serve: some node would lag unseen."""

    def settle(self, x: Floats, inputs: Inputs, settled: float) -> Floats:
        """The state with massless nodes in balance, to `settled` K."""

    def kelvin(self, change: Floats) -> float:
        """Size of a change of state: the largest change of temperature, K."""

    def watts(self, heat: Floats) -> float:
        """All nodes' heat together, of a vector as `balance` gives it."""

    def joules(self, change: Floats) -> float:
        """Heat stored by a change of state."""

    def conditions(self, x: Floats, inputs: Inputs) -> Conditions:
        """Operating points at a state."""

    def field(self, x: Floats) -> Floats:
        """Temperatures of all nodes, °C."""

    def readings(self, watches: list[Watch]) -> Readings:
        """A way to read these watches out of states."""


class FullDynamics:
    """The model itself."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.laws = governor_laws(model)
        self.capacity = model.capacity
        self.linear = not model.pattern.moving and not self.laws
        self._light = np.flatnonzero(model.capacity == 0)

    def balance(self, x: Floats, inputs: Inputs) -> tuple[Any, Floats]:
        """K at a state and the heat left to store."""
        model = self.model
        matrix = model.matrix(model.strengths(model.conditions(x, inputs)))
        return matrix, model.imbalance(matrix, x, inputs)

    def left(self, operator: Any, x: Floats, inputs: Inputs) -> Floats:
        """The heat left to store at a given K."""
        return self.model.imbalance(operator, x, inputs)

    def factor(self, operator: Any, span: float) -> Factor:
        """Sparse factors of C/span + K."""
        square = self.model.square(operator).copy()
        square.data[self.model.pattern.diagonal] += self.capacity / span
        return Factor(square, layout_of(self.model))

    def mark(self, operator: Any) -> Floats:
        """The diagonal of K."""
        found: Floats = operator.data[self.model.pattern.diagonal]
        return found

    def strayed(self, mark: Floats, operator: Any, span: float) -> bool:
        """Whether any node's own conductance, with its storage, is more than twice or less than half of before."""
        storage = self.capacity / span
        return too_far(self.mark(operator) + storage, mark + storage)

    def settle(self, x: Floats, inputs: Inputs, settled: float) -> Floats:
        """Bring massless nodes into balance with the others held."""
        light, x = self._light, x.copy()
        for _ in range(MOST_ROUNDS if light.size else 0):
            matrix, left = self.balance(x, inputs)
            step = Factor(self.model.square(matrix)[light][:, light]).solve(left[light])
            x[light] += step
            if np.abs(step).max() < settled:
                break
        return x

    def kelvin(self, change: Floats) -> float:
        """The largest change of any node."""
        return float(np.abs(change).max(initial=0.0))

    def watts(self, heat: Floats) -> float:
        """Sum over the nodes."""
        return float(heat.sum())

    def joules(self, change: Floats) -> float:
        """Heat stored by a change of all temperatures."""
        return float(self.capacity @ change)

    def conditions(self, x: Floats, inputs: Inputs) -> Conditions:
        """Operating points at given temperatures."""
        return self.model.conditions(x, inputs)

    def field(self, x: Floats) -> Floats:
        """The temperatures as they are."""
        return x

    def readings(self, watches: list[Watch]) -> Readings:
        """Watches read from node temperatures."""
        return NodeReadings(watches)


def too_far(now: Floats, before: Floats) -> bool:
    """Whether any of some positive numbers is more than twice or less than half of what it was."""
    return bool(np.any(now > FAR * before) or np.any(before > FAR * now))


class NodeReadings:
    """Watches read from node temperatures."""

    def __init__(self, watches: list[Watch]) -> None:
        self._watches = watches
        self._nodes = np.concatenate([np.zeros(0, dtype=np.int64), *(watch.nodes for watch in watches)])
        self._bounds = np.cumsum([watch.nodes.size for watch in watches])[:-1]

    def of(self, step: Step, times: Floats) -> Floats:
        """Values at times within a step, shape (times, watches)."""
        return np.array([self._values(step.at(float(time), self._nodes)) for time in times])

    def _values(self, temperature: Floats) -> list[float]:
        pieces = np.split(temperature, self._bounds)
        return [
            float(piece.max() if watch.shares is None else piece @ watch.shares)
            for watch, piece in zip(self._watches, pieces, strict=True)
        ]

"""How fast corrections by one linearised box close in on the steady state of another case.

Each correction leaves (I − J₀⁻¹ J) of what is off, J being the Jacobian of the case and J₀ the one at hand. A mode of
which little was off at first, such as the level of a slow coolant, shows in the sizes of the corrections only when all
else has gone; in the fields the modes are few, and the slowest is seen at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.solve.adjoint import Rest
from thermsim.solve.reduced.image import Image, RowSensor


@dataclass(frozen=True)
class Tangent:
    """A box in the fields about one state: K, what its heat answers to each governed speed (W, shape (laws, size)),
    and where each governor reads.
    """

    matrix: Floats
    faster: Floats
    read: Floats

    def bordered(self, rests: Sequence[Rest]) -> Floats:
        """With a row for what each governor rests under and a column for its speed."""
        per_kelvin = np.array([rest.per_kelvin for rest in rests]).reshape(-1, 1)
        per_speed = np.diag([rest.per_speed for rest in rests]).reshape(len(rests), len(rests))
        whole: Floats = np.block([[self.matrix, -self.faster.T], [per_kelvin * self.read, per_speed]])
        return whole

    def turns_away(self) -> list[bool]:
        """By governor: whether more of its speed makes its sensor hotter."""
        response = np.linalg.solve(self.matrix, self.faster.T)
        return [bool(mine @ response[:, k] > 0) for k, mine in enumerate(self.read)]


def tangent(image: Image, x: Floats, matrix: Floats, faster: Sequence[Floats]) -> Tangent:
    """The tangent of an image at a state, from its K there and its answers to the speeds."""
    rows = []
    for law in image.laws:
        assert isinstance(law.sensor, RowSensor)
        rows.append(law.sensor.rows[law.hottest(x)])
    shape = (len(rows), image.size)
    return Tangent(matrix, np.array(faster).reshape(shape), np.array(rows).reshape(shape))


def slowest(reference: Tangent, case: Tangent, rests: Sequence[Rest]) -> float:
    """What the slowest mode keeps of what is off at each correction; above one it grows. Infinite where J₀ is singular.

    `rests`: what the governors of the case rest under; the reference is taken with the same.
    """
    whole = case.bordered(rests)
    try:
        left = np.eye(whole.shape[0]) - np.linalg.solve(reference.bordered(rests), whole)
    except np.linalg.LinAlgError:
        return float("inf")
    return float(np.abs(np.linalg.eigvals(left)).max(initial=0.0))

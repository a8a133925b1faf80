"""The fields a reduced history is made of: first the given ones, then a basis orthonormal in heat capacity."""

from __future__ import annotations

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.system import Model

NOTHING_NEW = 1e-9  # of its own size: what is left of a vector that the basis already spans
QUICK = 1e-5  # s, in which a massless node answers when it is given a little capacity


class Basis:
    """Fields over nodes and places, shape (fields, nodes + places).

    The first row is the start, then one unit field a place, then the vectors v with vᵢᵀ C vⱼ = δᵢⱼ, zero at
    places: a temperature field is `[1, places, z] @ fields`.
    """

    def __init__(self, model: Model, start: Floats, capacity: Floats) -> None:
        self.capacity = capacity
        self.nodes, places = model.node_count, model.place_count
        self.given = 1 + places
        self._store = np.zeros((self.given + 16, self.nodes + places))
        self._store[0, : self.nodes] = start
        self._store[1 : self.given, self.nodes :] = np.eye(places)
        self.count = self.given
        self.samples = np.zeros((1, 0))  # states of a history in this basis, shape (samples, up to size)

    @property
    def fields(self) -> Floats:
        """All fields."""
        return self._store[: self.count]

    @property
    def vectors(self) -> Floats:
        """The basis proper over nodes, shape (size, nodes)."""
        return self._store[self.given : self.count, : self.nodes]

    @property
    def size(self) -> int:
        """Number of vectors."""
        return self.count - self.given

    def add(self, vector: Floats) -> bool:
        """Add what is new in a vector, shape (nodes,); False if nothing is."""
        before = float(np.sqrt(vector @ (self.capacity * vector)))
        if before == 0.0 or not np.isfinite(before):
            return False
        rest = vector / before
        for _ in range(2):  # twice is enough
            rest = rest - (self.vectors @ (self.capacity * rest)) @ self.vectors
        length = float(np.sqrt(rest @ (self.capacity * rest)))
        if length < NOTHING_NEW:
            return False
        if self.count == self._store.shape[0]:
            self._store = np.concatenate((self._store, np.zeros((self.count // 2, self._store.shape[1]))))
        self._store[self.count, : self.nodes] = rest / length
        self.count += 1
        return True

    def outside(self, heat: Floats) -> Floats:
        """The part of a heat vector (W) that no rate of change within the basis takes up."""
        left: Floats = heat - self.capacity * ((self.vectors @ heat) @ self.vectors)
        return left


def with_quick_nodes(model: Model, diagonal: Floats) -> Floats:
    """Heat capacities, massless nodes given just enough to answer at once; `diagonal`: that of K."""
    return np.where(model.capacity > 0, model.capacity, QUICK * diagonal)

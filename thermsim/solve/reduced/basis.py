"""The fields a reduced history is made of: first the given ones, then a basis orthonormal in heat capacity."""

from __future__ import annotations

from copy import copy

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.model.system import Model

ROOM = 64  # vectors that there is room for at first
NOTHING_NEW = 1e-9  # of its own size: what is left of a vector that the basis already spans
QUICK = 1e-8  # s, in which a massless node answers when it is given a little capacity


class Basis:
    """Fields over nodes and places, shape (fields, nodes + places).

    The first row is the start, then one unit field a place, then the vectors v with vᵢᵀ C vⱼ = δᵢⱼ, zero at
    places: a temperature field is `[1, places, z] @ fields`.
    """

    def __init__(self, model: Model, start: Floats, capacity: Floats) -> None:
        self.capacity = capacity
        self.nodes, places = model.node_count, model.place_count
        self.given = 1 + places
        self._store = np.zeros((self.given + ROOM, self.nodes + places))
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

    @classmethod
    def of(cls, model: Model, start: Floats, capacity: Floats, vectors: Floats) -> Basis:
        """A basis of vectors that are orthonormal already, shape (size, nodes)."""
        basis = cls(model, start, capacity)
        basis._store = np.vstack((basis.fields, np.pad(vectors, ((0, 0), (0, model.place_count)))))
        basis.count = basis._store.shape[0]
        return basis

    def coordinates(self, field: Floats) -> Floats:
        """The field's coordinates: what of it lies in the basis."""
        found: Floats = self.vectors @ (self.capacity * field)
        return found

    def led_by(self, states: Floats, watched: Ints, lost: float) -> tuple[Basis, Floats]:
        """A basis of what some states are made of, to within `lost` K at watched nodes, and the turn that takes
        coordinates to it, shape (size, new size). `states`: shape (states, size). A field of ones stays in it.
        """
        ones = self.coordinates(np.ones(self.nodes))
        ones /= np.linalg.norm(ones)
        rest = states - np.outer(states @ ones, ones)
        directions = np.linalg.svd(rest, full_matrices=False)[2]
        at_watched = self.vectors[:, watched]
        size = 0
        while size < directions.shape[0]:
            kept = directions[:size]
            missing = (rest - (rest @ kept.T) @ kept) @ at_watched
            if np.abs(missing).max() < lost:
                break
            size += 2
        turn = np.linalg.qr(np.vstack((ones, directions[:size])).T)[0]
        found = copy(self)
        found._store = np.zeros((self.given + turn.shape[1], self._store.shape[1]))
        found._store[: self.given] = self._store[: self.given]
        found._store[self.given :, : self.nodes] = turn.T @ self.vectors
        found.count = self.given + turn.shape[1]
        return found, turn

    def rename_start(self, start: Floats) -> None:
        """Take another start as the first field."""
        self._store[0, : self.nodes] = start

    def outside(self, heat: Floats) -> Floats:
        """The part of a heat vector (W) that no rate of change within the basis takes up."""
        left: Floats = heat - self.capacity * ((self.vectors @ heat) @ self.vectors)
        return left


def with_quick_nodes(model: Model, diagonal: Floats) -> Floats:
    """Heat capacities, massless nodes given just enough to answer at once; `diagonal`: that of K."""
    return np.where(model.capacity > 0, model.capacity, QUICK * diagonal)

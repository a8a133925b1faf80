"""Watched temperatures read from reduced coordinates: a row for each node or mean, few candidates for a maximum."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.solve.dynamics import Watch
from thermsim.solve.reduced.basis import Basis

if TYPE_CHECKING:
    from thermsim.solve.tr_bdf2 import Step

FEW = 16  # nodes, all of which are candidates
LEADING = 8  # candidates of each sample


class RowReadings:
    """Watches as rows of a basis.

    The hottest of many cells is looked for among those that lead in one of the basis' `samples`: states spread over
    the history.
    """

    def __init__(self, basis: Basis, watches: list[Watch], mix: Floats | None = None) -> None:
        self._watches = watches
        nodes = [self._candidates(basis, watch) for watch in watches]
        self._bounds = np.cumsum([found.size for found in nodes])
        picked = np.concatenate([np.zeros(0, dtype=np.int64), *nodes])
        self._offset = basis.fields[0, picked]
        self._rows = np.ascontiguousarray(basis.vectors[:, picked].T)
        for k, watch in enumerate(watches):
            if watch.shares is not None:
                at = self._bounds[k] - 1
                self._offset[at] = basis.fields[0, watch.nodes] @ watch.shares
                self._rows[at] = basis.vectors[:, watch.nodes] @ watch.shares
        if mix is not None:  # takes coordinates to those of the basis
            self._rows = self._rows @ mix

    @staticmethod
    def _candidates(basis: Basis, watch: Watch) -> Ints:
        if watch.shares is not None:
            return watch.nodes[:1]  # its row is made below
        if watch.nodes.size <= FEW:
            return watch.nodes
        samples = basis.samples
        fields = basis.fields[0, watch.nodes] + samples @ basis.vectors[: samples.shape[1], watch.nodes]
        leading = min(LEADING, watch.nodes.size)
        hottest: Ints = watch.nodes[np.unique(np.argpartition(fields, -leading, axis=1)[:, -leading:])]
        return hottest

    def of(self, step: Step, times: Floats) -> Floats:
        """Values at times within a step, shape (times, watches)."""
        states = np.array([step.at(float(time)) for time in times])
        temperatures = self._offset + states @ self._rows.T
        starts = np.r_[0, self._bounds[:-1]]
        return np.maximum.reduceat(temperatures, starts, axis=1)

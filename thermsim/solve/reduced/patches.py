"""Links whose strength differs from link to link, gathered into patches.

The strength at a reference state stays exact, link by link; only its change from there is taken as one for a
patch. For radiation between sheets the change is a few per cent, smooth over a patch: a small part of a small part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import Law, LinkGroup
from thermsim.model.operating import Conditions
from thermsim.model.site import Site

ACROSS = 16  # patches across the larger side of the plan
SPREAD = 3.0  # K at most within a patch, at the reference state
FEW = 256  # links, below which each is its own patch


@dataclass(frozen=True)
class Patches:
    """Links of a group (by its number) by patch: `mean` (links, patches) averages; `weight`: W/K at strength one."""

    number: int
    group: LinkGroup
    mean: sp.csc_array
    weight: Floats
    given: tuple[Floats, ...]

    @property
    def law(self) -> Law:
        """The group's law."""
        assert self.group.law is not None
        return self.group.law

    def difference(self, fields: Floats) -> Floats:
        """Mean difference from receiver to sender by field and patch, shape (fields, patches)."""
        return self._average(fields, self.group.receiver) - self._average(fields, self.group.sender)

    def strength(self, now: Conditions) -> Floats:
        """Strength of each patch at full conditions, as the reduced model finds it: from mean temperatures."""
        means = [mean.of(now.temperature) for mean in self.law.means]
        ends = [now.temperature[nodes] @ self.mean for nodes in self.law.ends]
        return np.asarray(self.law.formula(now, *means, *ends, *self.given))

    def ends(self, fields: Floats) -> list[Floats]:
        """Mean of each end the law reads, by field and patch."""
        return [self._average(fields, nodes) for nodes in self.law.ends]

    def _average(self, fields: Floats, nodes: Ints) -> Floats:
        averaged: Floats = (self.mean.T @ fields[:, nodes].T).T
        return averaged


def patches_of(number: int, group: LinkGroup, where: Ints, temperature: Floats, spread: float = SPREAD) -> Patches:
    """Gather a group's links by `where` each lies (see `plan_bins`), and by temperatures `spread` (K) apart."""
    law = group.law
    assert law is not None
    count = group.receiver.size
    if count <= FEW:
        owner = np.arange(count)
    else:
        levels = [np.floor(temperature[nodes] / spread).astype(int) for nodes in law.ends]
        given = [np.unique(value, return_inverse=True)[1].ravel() for value in law.given]
        keys = np.stack([where[group.receiver], *levels, *given])
        owner = np.unique(keys, axis=1, return_inverse=True)[1].ravel()
    weight = np.bincount(owner, weights=group.weight).astype(float)
    mean = sp.csc_array((group.weight / weight[owner], (np.arange(count), owner)), shape=(count, weight.size))
    return Patches(number, group, mean, weight, tuple(np.asarray(mean.T @ value) for value in law.given))


def plan_bins(site: Site, nodes: int, across: int = ACROSS) -> Ints:
    """A number for the square of the plan each node lies in, shape (nodes,); by runs where it has no place in plan."""
    bins = -1 - np.arange(nodes) // 8
    grid = site.grid
    side = max(grid.x[-1] - grid.x[0], grid.y[-1] - grid.y[0]) / across
    for k, sheet in enumerate(site.sheets.values()):
        x, y = sheet.centres
        column, row = ((x - grid.x[0]) / side).astype(int), ((y - grid.y[0]) / side).astype(int)
        number = (k * (across + 1) + row[:, None]) * (across + 1) + column[None, :]
        active = sheet.node >= 0
        bins[sheet.node[active]] = number[active]
    return bins

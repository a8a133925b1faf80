"""The discrete system C dT/dt = P − K T of a case, assembled from its links."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

from thermsim.case.case import Case
from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import LinkGroup
from thermsim.model.operating import Conditions, Operating
from thermsim.model.program import Inputs, Program
from thermsim.model.site import Site

Strengths = dict[int, "float | Floats"]  # of each group with a law, by its number


@dataclass
class Model:
    """Nodes with capacities (J/K), link groups, and the pattern their sum is assembled on.

    Temperatures of nodes come first in every vector, then those of places.
    """

    case: Case
    site: Site
    capacity: Floats
    groups: list[LinkGroup]
    place_count: int
    operating: Operating
    program: Program
    coolant_nodes: dict[str, Ints]
    initial: Floats | None = None  # temperatures at time zero where they are not even, shape (nodes,)

    @cached_property
    def pattern(self) -> Pattern:
        """The sparsity of K."""
        return Pattern(self.groups, self.node_count, self.place_count)

    @property
    def node_count(self) -> int:
        """Number of unknowns."""
        return self.capacity.size

    def numbers(self, address: str) -> Ints:
        """Node numbers of an address such as `part.fpga` or `sheet.board`."""
        return self.site.builder.names[address]

    def name_of(self, node: int) -> str:
        """The address a node was laid under."""
        return next((name for name, nodes in self.site.builder.names.items() if node in nodes), f"node {node}")

    def adrift(self) -> Ints:
        """Nodes that no chain of links leads from to any place: a sheet nothing cools, a piece cut off."""
        return adrift(self.groups, self.node_count)

    def start(self) -> Floats:
        """Temperatures at time zero, shape (nodes,): `initial`, the stated start or the room."""
        if self.initial is not None:
            return self.initial.copy()
        spec = self.case.spec
        degc = spec.run.start if spec.run.start is not None else spec.room.temperature
        return np.full(self.node_count, degc)

    def conditions(self, temperature: Floats, inputs: Inputs) -> Conditions:
        """Operating points at given node temperatures."""
        return self.operating.conditions(np.r_[temperature, inputs.places], inputs.controls)

    def strengths(self, now: Conditions) -> Strengths:
        """Strength of every group that has a law."""
        return {k: group.law(now) for k, group in enumerate(self.groups) if group.law is not None}

    def matrix(self, strengths: Strengths) -> sp.csc_array:
        """K, shape (nodes, nodes + places), W/K: P − K [T; places] is the heat left to store."""
        return self.pattern.matrix(strengths)

    def square(self, matrix: sp.csc_array) -> sp.csc_array:
        """The part of K that acts on nodes, sharing its numbers."""
        n = self.node_count
        end = matrix.indptr[n]
        return sp.csc_array((matrix.data[:end], matrix.indices[:end], matrix.indptr[: n + 1]), shape=(n, n), copy=False)

    def imbalance(self, matrix: sp.csc_array, temperature: Floats, inputs: Inputs) -> Floats:
        """Heat left to store in each node, W, shape (nodes,)."""
        residual: Floats = self.program.heat @ inputs.watts - matrix @ np.r_[temperature, inputs.places]
        return residual

    def heat_left(self, now: Conditions, strengths: Strengths, inputs: Inputs) -> Floats:
        """What `imbalance` gives, summed up link by link: no matrix is laid out for it."""
        left = np.zeros(self.node_count + self.place_count)
        left[: self.node_count] = self.program.heat @ inputs.watts
        for k, group in enumerate(self.groups):
            left += self.taken(group, strengths.get(k, 1.0), now.temperature)
        return left[: self.node_count]

    def taken(self, group: LinkGroup, strength: float | Floats, full: Floats) -> Floats:
        """Heat that a group leaves in each node and place, W."""
        moved = self.flow(group, strength, full)
        left = -np.bincount(group.receiver, moved, full.size).astype(float)
        if group.mutual:
            left += np.bincount(group.sender, moved, full.size)
        return left

    def flow(self, group: LinkGroup, strength: float | Floats, full: Floats) -> Floats:
        """Heat through each link of a group from receiver to sender, W; `full`: nodes and places."""
        moved: Floats = strength * group.weight * (full[group.receiver] - full[group.sender])
        return moved


def adrift(groups: list[LinkGroup], nodes: int) -> Ints:
    """Nodes that no chain of links leads from to any place."""
    ends = np.concatenate([np.stack((group.receiver, group.sender)) for group in groups], axis=1)
    total = nodes + 1  # all places are one end
    links = sp.coo_array((np.ones(ends.shape[1]), np.minimum(ends, nodes)), shape=(total, total))
    _, piece = connected_components(links.tocsr(), directed=False)
    found: Ints = np.flatnonzero(piece[:nodes] != piece[nodes])
    return found


class Pattern:
    """The sparsity of K, and for each group where its weights go."""

    def __init__(self, groups: list[LinkGroup], nodes: int, places: int) -> None:
        self.shape = (nodes, nodes + places)
        rows, columns, owners, links, signs = [], [], [], [], []
        for k, group in enumerate(groups):
            for row, column, sign, keep in _entries(group, nodes):
                rows.append(row[keep])
                columns.append(column[keep])
                links.append(np.flatnonzero(keep))
                owners.append(np.full(int(keep.sum()), k))
                signs.append(np.full(int(keep.sum()), sign))
        # every diagonal is present, so that capacities can be added in place
        rows.append(np.arange(nodes))
        columns.append(np.arange(nodes))
        links.append(np.zeros(nodes, dtype=np.int64))
        owners.append(np.full(nodes, -1))
        signs.append(np.zeros(nodes))
        row, column = np.concatenate(rows), np.concatenate(columns)
        key = column * nodes + row
        unique, slot = np.unique(key, return_inverse=True)
        self.indices = (unique % nodes).astype(np.int32)
        counts = np.bincount((unique // nodes).astype(np.int64), minlength=nodes + places)
        self.indptr = np.r_[0, np.cumsum(counts)].astype(np.int32)
        self.diagonal = np.searchsorted(unique, np.arange(nodes) * nodes + np.arange(nodes))
        self._split(groups, slot, np.concatenate(owners), np.concatenate(links), np.concatenate(signs))

    def _split(self, groups: list[LinkGroup], slot: Ints, owner: Ints, link: Ints, sign: Floats) -> None:
        """Constant groups are added up once; for each moving one keep a map from links to slots."""
        self.base = np.zeros(self.indices.size)
        self.moving: dict[int, tuple[Ints, sp.csr_array]] = {}
        order = np.argsort(owner, kind="stable")
        bounds = np.searchsorted(owner[order], np.arange(len(groups) + 1))
        for k, group in enumerate(groups):
            mine = order[bounds[k] : bounds[k + 1]]
            value = sign[mine] * group.weight[link[mine]]
            if group.law is None:
                np.add.at(self.base, slot[mine], value)
            else:
                slots, local = np.unique(slot[mine], return_inverse=True)
                scatter = sp.coo_array((value, (local, link[mine])), shape=(slots.size, group.weight.size))
                self.moving[k] = slots, scatter.tocsr()

    def matrix(self, strengths: Strengths) -> sp.csc_array:
        """The sum of all groups at their strengths, canonical CSC."""
        data = self.base.copy()
        for k, (slots, scatter) in self.moving.items():
            strength = np.broadcast_to(np.asarray(strengths[k], dtype=float), scatter.shape[1:])
            data[slots] += scatter @ strength
        return sp.csc_array((data, self.indices, self.indptr), shape=self.shape, copy=False)


def _entries(group: LinkGroup, nodes: int) -> list[tuple[Ints, Ints, float, NDArray[np.bool_]]]:
    """Row, column, sign and which links count, for the four (mutual) or two (directed) entries of a link."""
    to, source = group.receiver, group.sender
    inside = source < nodes
    every = np.ones(to.size, dtype=bool)
    entries = [(to, to, 1.0, every), (to, source, -1.0, every)]
    if group.mutual:
        entries += [(source, source, 1.0, inside), (source, to, -1.0, inside)]
    return entries

"""What a watt at one port does to the temperature at another: columns of the inverse of a factored matrix."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from thermsim.model.arrays import Floats, Ints
from thermsim.solve.factor import Factor


@dataclass(frozen=True)
class Port:
    """Nodes that take heat in fixed shares (adding up to one) and whose mean with the same shares is read."""

    nodes: Ints
    shares: Floats

    @classmethod
    def of_node(cls, node: int) -> Port:
        """A single node."""
        return cls(np.array([node]), np.ones(1))

    @classmethod
    def over(cls, nodes: Ints, areas: Floats) -> Port:
        """Nodes by their areas."""
        return cls(nodes, areas / areas.sum())


def shares(ports: Sequence[Port], nodes: int) -> sp.csr_array:
    """One row a port, shape (ports, nodes)."""
    counts = [port.nodes.size for port in ports]
    data = np.concatenate([np.zeros(0), *(port.shares for port in ports)])
    columns = np.concatenate([np.zeros(0, dtype=np.int64), *(port.nodes for port in ports)])
    return sp.csr_array((data, columns, np.r_[0, np.cumsum(counts)].astype(np.int64)), shape=(len(ports), nodes))


def port_response(factor: Factor, ports: Sequence[Port], nodes: int) -> Floats:
    """Rise of port i for one watt into port j, K/W, shape (ports, ports); one solve a port.

    Symmetric where the matrix is: without streams what A does to B, B does to A.
    """
    rows = shares(ports, nodes)
    found = np.empty((len(ports), len(ports)))
    for j, port in enumerate(ports):
        watt = np.zeros(nodes)
        watt[port.nodes] = port.shares
        found[:, j] = rows @ factor.solve(watt)
    return found

"""Capacities and links: the one structure the whole physical model is written in.

A *node* has a temperature and a heat capacity (J/K, zero for a massless node). A *place* has a given
temperature (the room, an inlet, a held edge). A *link group* joins nodes with nodes or places by
conductances of fixed pattern, times a strength that a law gives from the present conditions:

    C dT/dt = P − Σ_g s_g M_g T

Links are mutual (heat goes both ways) or directed (a stream: the receiving node feels the sender).
A law says which temperatures it reads, so that a reduced model need know only those.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from thermsim.model.arrays import Floats, Ints

if TYPE_CHECKING:
    from thermsim.model.operating import Conditions

Formula = Callable[..., "float | Floats"]
GivenHeat = tuple[Ints, Floats, float]  # nodes, the share of each, and the watts of all


@dataclass(frozen=True)
class Mean:
    """A weighted mean of temperatures that a law reads."""

    nodes: Ints
    shares: Floats

    def of(self, temperature: Floats) -> float:
        """The mean, °C."""
        return float(self.shares @ temperature[self.nodes])


@dataclass(frozen=True)
class Law:
    """The strength of a group's links: `formula(conditions, *means, *ends, *given)`.

    `means`: temperatures that are one for the whole group. `ends`: nodes or places, one for each link, whose own
    temperatures are read. `given`: fixed numbers, one for each link. With neither of the last two the strength
    is one number for the group.
    """

    formula: Formula
    means: tuple[Mean, ...] = ()
    ends: tuple[Ints, ...] = ()
    given: tuple[Floats, ...] = ()

    def __call__(self, now: Conditions) -> float | Floats:
        """The strength, a number or one for each link."""
        full = now.temperature
        read = (*(mean.of(full) for mean in self.means), *(full[nodes] for nodes in self.ends))
        return self.formula(now, *read, *self.given)

    def at_given(self, values: tuple[float, ...]) -> Law:
        """The law of those links that have these given numbers: one strength for all of them."""
        formula = self.formula
        return Law(lambda now, *means: formula(now, *means, *values), self.means)

    def numbered(self, total: int) -> Law:
        """The law with every number counted from the first node."""
        means = tuple(Mean(counted(mean.nodes, total), mean.shares) for mean in self.means)
        return replace(self, means=means, ends=tuple(counted(nodes, total) for nodes in self.ends))


def counted(nodes: Ints, total: int) -> Ints:
    """Node and place numbers counted from the first node; those of places were counted from the end."""
    return np.where(nodes < 0, total + nodes, nodes)


@dataclass(frozen=True)
class LinkGroup:
    """Links of one kind and origin.

    `receiver`, `sender`: node numbers, shape (n,); places come after the last node.
    `weight`: W/K at strength one, shape (n,). `law` gives the strength, a number or shape (n,); None is one.
    A mutual group takes from the sender what it gives the receiver; a directed one acts on the receiver only.
    """

    name: str
    kind: str
    receiver: Ints
    sender: Ints
    weight: Floats
    mutual: bool = True
    law: Law | None = None


@dataclass
class Builder:
    """Collects nodes, places and links while the case is walked through."""

    capacities: list[Floats] = field(default_factory=list)
    node_count: int = 0
    names: dict[str, Ints] = field(default_factory=dict)
    places: dict[str, int] = field(default_factory=dict)
    groups: list[LinkGroup] = field(default_factory=list)

    def copy(self) -> Builder:
        """One that can be built on without touching this."""
        return Builder(list(self.capacities), self.node_count, dict(self.names), dict(self.places), list(self.groups))

    def add_nodes(self, name: str, capacity: ArrayLike) -> Ints:
        """Add nodes with heat capacities (J/K); returns their numbers, shape of `capacity` flattened."""
        block = np.atleast_1d(np.asarray(capacity, dtype=float)).ravel()
        numbers = np.arange(self.node_count, self.node_count + block.size)
        self.capacities.append(block)
        self.node_count += block.size
        self.names[name] = numbers
        return numbers

    def add_node(self, name: str, capacity: float) -> int:
        """Add one node; returns its number."""
        return int(self.add_nodes(name, capacity)[0])

    def place(self, name: str) -> int:
        """The number of a place, made on first use.

        It is negative: places stand at the end of the temperature vector, last made first, so that the
        number is a valid index before the count of nodes is known.
        """
        return -1 - self.places.setdefault(name, len(self.places))

    def link(
        self,
        name: str,
        kind: str,
        receiver: ArrayLike,
        sender: ArrayLike,
        weight: ArrayLike,
        *,
        mutual: bool = True,
        law: Law | Formula | None = None,
    ) -> None:
        """Add a group of links; the three arrays are broadcast. A bare formula reads operating points only."""
        if law is not None and not isinstance(law, Law):
            law = Law(law)
        to, source, value = np.broadcast_arrays(
            np.asarray(receiver, dtype=np.int64),
            np.asarray(sender, dtype=np.int64),
            np.asarray(weight, float),
        )
        self.groups.append(
            LinkGroup(name, kind, to.ravel().copy(), source.ravel().copy(), value.ravel().copy(), mutual, law)
        )

    def numbered(self) -> list[LinkGroup]:
        """The groups with every number counted from the first node."""
        return [self._numbered(group) for group in self.groups if group.receiver.size]

    def _numbered(self, group: LinkGroup) -> LinkGroup:
        total = self.node_count + len(self.places)
        receiver, sender = (counted(ends, total) for ends in (group.receiver, group.sender))
        # a mutual link is turned so that its receiver is always a node
        if group.mutual:
            swap = receiver >= self.node_count
            receiver, sender = np.where(swap, sender, receiver), np.where(swap, receiver, sender)
        law = group.law and group.law.numbered(total)
        return replace(group, receiver=receiver, sender=sender, law=law)

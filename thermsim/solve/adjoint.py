"""A steady state linearised: the true Jacobian of its heat balance and governors, solved both ways.

K alone is not the Jacobian: strengths answer to temperatures. What a law reads from its links' own ends adds sparse
entries; what it reads of a mean, an inlet or a coolant's mean temperature adds a rank-one term; a governor adds its
speed as an unknown. With such terms as a border the system is

    [ A  W ] [dT]   [ b ]
    [ C  E ] [dz] = [ q ]

A = K and the sparse entries, factored once; dz are the changes of what is read, then those of the governors' speeds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import Law
from thermsim.model.operating import Conditions
from thermsim.model.system import Model
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.factor import Factor
from thermsim.solve.governors import SLOPE_STEP, GovernorLaw, NodeSensor, governor_laws
from thermsim.solve.ordering import layout_of
from thermsim.solve.steady import Steady

WARMER = 1e-3  # K, for what strengths answer to a temperature
FASTER = 1e-4  # for what heat answers to a speed
AT_LIMIT = 1e-6  # of speed


@dataclass(frozen=True)
class Read:
    """A temperature that strengths read: a mean over nodes, and what each node's heat answers to it, W/K."""

    nodes: Ints
    shares: Floats
    heat: Floats


class Linearised:
    """Small changes about a steady state: of temperatures (K) and of each governor's speed, in `laws` order."""

    def __init__(self, model: Model, steady: Steady) -> None:
        self.model, self.steady = model, steady
        self.laws = governor_laws(model)
        with collect_ranges():
            reads = [*_operating_reads(model, steady), *_law_reads(model, steady)]
            faster = [self._faster(law) for law in self.laws]
        matrix = model.square(model.matrix(steady.strengths)) - end_slopes(model, steady.conditions)
        self.factor = Factor(sp.csc_array(matrix), layout_of(model))
        nodes, size = model.node_count, len(reads) + len(self.laws)
        self._columns = -np.array([*(read.heat for read in reads), *faster]).reshape(size, nodes)  # W, by row
        self._rows = np.zeros((size, nodes))  # C
        self._corner = np.eye(size)  # E
        for k, read in enumerate(reads):
            np.add.at(self._rows[k], read.nodes, -read.shares)
        self._reads = len(reads)
        self.answers = np.array([self.factor.solve(column) for column in self._columns]).reshape(size, nodes)
        self._hottest = [law.hottest(steady.temperature) for law in self.laws]
        self._set_rests(governor_rests(self.laws, steady.temperature, steady.speeds))

    def _set_rests(self, rests: Sequence[Rest]) -> None:
        """Take the conditions the governors rest under into the border."""
        for k, (law, rest, hottest) in enumerate(zip(self.laws, rests, self._hottest, strict=True), start=self._reads):
            assert isinstance(law.sensor, NodeSensor)
            self._rows[k, law.sensor.nodes[hottest]] = rest.per_kelvin
            self._corner[k, k] = rest.per_speed
        self._small = self._corner - self._rows @ self.answers.T

    def resting(self, rests: Sequence[Rest]) -> Linearised:
        """The same with the governors under other conditions: at a limit, say, and not holding their sensors."""
        twin = copy(self)
        twin._rows, twin._corner = self._rows.copy(), self._corner.copy()
        twin._set_rests(rests)
        return twin

    def _faster(self, law: GovernorLaw) -> Floats:
        """What each node's heat answers to a governed speed, W."""
        speed = self.steady.speeds[law.table.drives[0]]
        low, high = max(speed - FASTER, 0.0), speed + FASTER
        found: Floats = (self._heat_at(law, high) - self._heat_at(law, low)) / (high - low)
        return found

    def _heat_at(self, law: GovernorLaw, speed: float) -> Floats:
        steady, speeds = self.steady, {**self.steady.speeds, **dict.fromkeys(law.table.drives, speed)}
        return heat_at(self.model, steady.temperature, speeds, steady.time)

    def solve(self, heat: Floats, rests: Floats) -> tuple[Floats, Floats]:
        """Changes of temperatures and speeds for more heat left in each node (W) and more that governors rest off by.

        `rests`: see `governor_rest`, in the order of `laws`; the sign is that of what is to be made good.
        """
        plain = self.factor.solve(heat)
        given = np.concatenate((np.zeros(self._reads), rests))
        border = np.linalg.solve(self._small, given - self._rows @ plain) if given.size else given
        return plain - border @ self.answers, border[self._reads :]

    def adjoint(self, of_nodes: Floats, of_speeds: Floats) -> tuple[Floats, Floats]:
        """For an output that changes by `of_nodes` · dT + `of_speeds` · dn: what it answers to heat left in each node,
        and to what each governor rests off by, so that J = λ · heat + μ · rests.
        """
        given = np.concatenate((np.zeros(self._reads), of_speeds))
        border = np.linalg.solve(self._small.T, given - self.answers @ of_nodes) if given.size else given
        adjoint = self.factor.solve(of_nodes - border @ self._rows, transposed=True)
        return adjoint, border[self._reads :]


@dataclass(frozen=True)
class Rest:
    """What a governor is off from resting, and how that answers to its sensor (1/K) and its speed."""

    off: float
    per_kelvin: float
    per_speed: float


def governor_rest(law: GovernorLaw, temperature: Floats, speed: float) -> Rest:
    """The condition a governor rests under, as a number that is then zero.

    A `hold` within its limits: kelvin off its set point. One at a limit, or a switch: speed off that. A `curve`: speed
    off what it asks for.
    """
    table, reading = law.table, law.read(temperature)
    if table.law == "hold":
        assert table.set_point is not None
        over = reading - table.set_point
        if over < 0 and speed <= table.min_speed + AT_LIMIT:
            return Rest(speed - table.min_speed, 0.0, 1.0)
        if over > 0 and speed >= table.max_speed - AT_LIMIT:
            return Rest(speed - table.max_speed, 0.0, 1.0)
        return Rest(over, 1.0, 0.0)
    if table.law == "curve":
        wanted, below, above = (law.demand(reading + by, speed, on=False) for by in (0.0, -SLOPE_STEP, SLOPE_STEP))
        return Rest(speed - wanted, -(above - below) / (2 * SLOPE_STEP), 1.0)
    return Rest(0.0, 0.0, 1.0)


def governor_rests(laws: Sequence[GovernorLaw], temperature: Floats, speeds: Mapping[str, float]) -> list[Rest]:
    """The condition each governor rests under, see `governor_rest`; `speeds`: by device."""
    return [governor_rest(law, temperature, speeds[law.table.drives[0]]) for law in laws]


def heat_at(model: Model, temperature: Floats, speeds: Mapping[str, float], time: float) -> Floats:
    """Heat left in each node (W) at some temperatures and governed speeds, under the inputs of a time."""
    inputs = model.program.at(time, speeds)
    now = model.conditions(temperature, inputs)
    return model.heat_left(now, model.strengths(now), inputs)


def _operating_reads(model: Model, steady: Steady) -> Iterator[Read]:
    """Temperatures that set what air and coolant are and how they flow: inlets fed by nodes, coolants' means."""
    operating, now, inputs = model.operating, steady.conditions, steady.inputs
    inlets = [float(now.temperature[operating.feeds[name]]) for name in operating.air]
    means = [float(now.temperature[operating.coolant_nodes[name]].mean()) for name in operating.loops]

    def heat(read: list[float]) -> Floats:
        air, loops = operating.points(read[: len(inlets)], read[len(inlets) :], inputs.controls)
        moved = Conditions(now.temperature, air, loops, now.pressure, now.speeds)
        return model.heat_left(moved, model.strengths(moved), inputs)

    nodes = [np.array([operating.feeds[name]]) for name in operating.air]
    nodes += [operating.coolant_nodes[name] for name in operating.loops]
    at_rest = inlets + means
    for k, mine in enumerate(nodes):
        if mine[0] < model.node_count:
            high, low = (heat([*at_rest[:k], at_rest[k] + by, *at_rest[k + 1 :]]) for by in (WARMER, -WARMER))
            yield Read(mine, np.full(mine.size, 1 / mine.size), (high - low) / (2 * WARMER))


def _law_reads(model: Model, steady: Steady) -> Iterator[Read]:
    """Means that laws read, as far as nodes have a share in them."""
    full = steady.conditions.temperature
    for group in model.groups:
        if group.law is None or not group.law.means:
            continue
        lone, ends = _reads_of(group.law, full)
        for k, mean in enumerate(group.law.means):
            free = mean.nodes < model.node_count
            if not free.any():
                continue
            high, low = (
                group.law.formula(steady.conditions, *lone[:k], lone[k] + by, *lone[k + 1 :], *ends, *group.law.given)
                for by in (WARMER, -WARMER)
            )
            heat = model.taken(group, (np.asarray(high) - low) / (2 * WARMER), full)[: model.node_count]
            yield Read(mean.nodes[free], mean.shares[free], heat)


def end_slopes(model: Model, now: Conditions) -> sp.csc_array:
    """What each node's heat answers to strengths that answer to the ends of their links, W/K, shape (nodes, nodes)."""
    full, nodes = now.temperature, model.node_count
    rows, columns, values = [], [], []
    for group in model.groups:
        if group.law is None or not group.law.ends:
            continue
        lone, ends = _reads_of(group.law, full)
        for k, end in enumerate(group.law.ends):
            high, low = (
                group.law.formula(now, *lone, *ends[:k], ends[k] + by, *ends[k + 1 :], *group.law.given)
                for by in (WARMER, -WARMER)
            )
            moved = model.flow(group, (np.asarray(high) - low) / (2 * WARMER), full)
            for to, sign in (
                ((group.receiver, -1.0), (group.sender, 1.0)) if group.mutual else ((group.receiver, -1.0),)
            ):
                inside = (to < nodes) & (end < nodes)
                rows.append(to[inside])
                columns.append(end[inside])
                values.append(sign * moved[inside])
    if not rows:
        return sp.csc_array((nodes, nodes))
    at = (np.concatenate(rows), np.concatenate(columns))
    return sp.csc_array(sp.coo_array((np.concatenate(values), at), shape=(nodes, nodes)))


def _reads_of(law: Law, full: Floats) -> tuple[list[float], list[Floats]]:
    """Means and ends that a law reads."""
    return [mean.of(full) for mean in law.means], [full[end] for end in law.ends]

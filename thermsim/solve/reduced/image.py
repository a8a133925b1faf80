"""The image of a model in a reduced basis: the same heat balance in a few dozen coordinates.

Every moving link group is projected once; its strength is found by its own law, from the temperatures it reads.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag, get_lapack_funcs

from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import LinkGroup
from thermsim.model.operating import Conditions
from thermsim.model.program import Inputs
from thermsim.model.system import Model
from thermsim.solve.dynamics import Readings, Watch, too_far
from thermsim.solve.factor import SolveFailed
from thermsim.solve.governors import GovernorLaw, NodeSensor, governor_laws
from thermsim.solve.reduced.basis import Basis
from thermsim.solve.reduced.projector import Projector
from thermsim.solve.reduced.readings import RowReadings

UNCHANGED = 1e-9  # relative change of a weight that is none
GETRF, GETRS = get_lapack_funcs(("getrf", "getrs"), dtype=np.float64)


class DenseFactor:
    """LU of a small dense matrix."""

    def __init__(self, matrix: Floats) -> None:
        self._lu, self._pivots, failed = GETRF(matrix, overwrite_a=True)
        if failed:
            raise SolveFailed("a reduced operator is singular")

    @property
    def bytes(self) -> float:
        """Memory held."""
        return float(self._lu.nbytes)

    def solve(self, right: Floats) -> Floats:
        """Solution for one right-hand side."""
        found: Floats = GETRS(self._lu, self._pivots, right)[0]
        return found


@dataclass(frozen=True)
class Change:
    """How far the strengths of one state are from the reference: of whole groups, and of patches (W/K)."""

    groups: Floats
    patches: Floats


@dataclass(frozen=True)
class RowSensor:
    """Reads some rows of a reduced field."""

    offset: Floats
    rows: Floats

    def values(self, x: Floats) -> Floats:
        """Temperatures, °C."""
        found: Floats = self.offset + self.rows @ x
        return found

    def changes(self, change: Floats) -> Floats:
        """How they change, K."""
        found: Floats = self.rows @ change
        return found


class Image:
    """`Dynamics` in the coordinates of a basis, z, with unit capacities; `before`: an image in part of the basis."""

    def __init__(self, projector: Projector, basis: Basis, before: Image | None = None) -> None:
        self.model = projector.model
        self.projector = projector
        self.basis = basis
        self.size = basis.size
        self.capacity = np.ones(basis.size)
        self._given = basis.given
        self._project(basis.fields, before)
        self._reading = self._reading_rows(basis.fields)
        self.whole_box = basis.vectors @ basis.capacity  # coordinates of a field of ones
        self._watch = np.ascontiguousarray(basis.vectors[:, projector.watched].T)
        self._mix: Floats | None = None  # takes coordinates to those of the basis
        self._attach(self.model)
        self._reference = np.array([moving.at_rest for moving in projector.whole])
        self.linear = not projector.whole and not projector.patched and not self.laws
        self._projected: dict[int, Floats] = {}  # groups that do not move, by number, at their reference

    def _attach(self, model: Model) -> None:
        """Take a model's sources and governors."""
        self.model = model
        heat = model.program.heat
        taken = (
            np.add.reduceat(self.basis.vectors[:, heat.indices] * heat.data, heat.indptr[:-1], axis=1)
            if (heat.nnz)
            else np.zeros((self.basis.size, 0))
        )
        self._heat = self._mixed(taken)
        self.laws = [
            GovernorLaw(law.name, law.table, self._sensor(law.sensor.nodes))
            for law in governor_laws(model)
            if isinstance(law.sensor, NodeSensor)
        ]

    def _mixed(self, rows: Floats) -> Floats:
        """Rows that belong to the basis, as rows of these coordinates."""
        return rows if self._mix is None else self._mix.T @ rows

    def _sensor(self, nodes: Ints) -> RowSensor:
        fields = self.basis.fields
        return RowSensor(fields[0, nodes], np.ascontiguousarray(self._mixed(fields[self._given :, nodes]).T))

    def recombined(self, mix: Floats) -> Image:
        """The image in combinations of these coordinates, `mix` of shape (these, those)."""
        twin = copy(self)
        both = block_diag(np.eye(self._given), mix)
        twin.size = mix.shape[1]
        twin.capacity = np.ones(twin.size)
        twin._base = mix.T @ self._base @ both
        twin._groups = mix.T @ self._groups @ both
        twin._differences, twin._reading = both.T @ self._differences, self._reading @ both
        twin.whole_box, twin._watch = mix.T @ self.whole_box, self._watch @ mix
        twin._mix = mix if self._mix is None else self._mix @ mix
        twin._projected = {}
        twin._attach(self.model)
        return twin

    def of_case(self, model: Model) -> Image | None:
        """The image of another case of the same sheets; None where other links move in it."""
        twin = self.of_links(model)
        return None if twin is None else twin._of_capacity(model.capacity - self.projector.model.capacity)

    def of_links(self, model: Model) -> Image | None:
        """The image of another case as far as its steady states go: heat capacities stay as they were."""
        old = self.projector.model
        projector = self.projector.of_case(model)
        if projector is None:
            return None
        twin = copy(self)
        twin.projector = projector
        twin._base = self._base.copy()
        moving = {m.number for m in projector.whole} | {p.number for p, _ in projector.patched}
        stretches = list(_conditions_at(model, self.projector.now.temperature))
        for k, (before, after) in enumerate(zip(old.groups, model.groups, strict=True)):
            if k in moving:
                if not np.array_equal(before.weight, after.weight):
                    return None
                continue
            was = before.weight if before.law is None else before.law(self.projector.now) * before.weight
            strengths = [after.weight if after.law is None else after.law(now) * after.weight for now in stretches]
            if any(np.abs(other - strengths[0]).max() > UNCHANGED * np.abs(was).max() for other in strengths[1:]):
                return None
            twin._base += self._changed_group(k, before, was, strengths[0] - was)
        twin._attach(model)
        return twin

    def _changed_group(self, number: int, group: LinkGroup, was: Floats, change: Floats) -> Floats | float:
        """What a group's change of weights adds to the operator; one by the same factor throughout costs nothing."""
        changed = np.flatnonzero(np.abs(change) > UNCHANGED * np.abs(was))
        if not changed.size:
            return 0.0
        factor = change[changed[0]] / was[changed[0]] if was[changed[0]] else 0.0
        if np.abs(change - factor * was).max() < UNCHANGED * np.abs(change).max():
            if number not in self._projected:
                ends = (group.receiver, group.sender, was)
                self._projected[number] = self._project_change(LinkGroup(group.name, group.kind, *ends, group.mutual))
            return factor * self._projected[number]
        ends = (group.receiver[changed], group.sender[changed], change[changed])
        return self._project_change(LinkGroup(group.name, group.kind, *ends, group.mutual))

    def _of_capacity(self, more: Floats) -> Image:
        """The image with other heat capacities, in coordinates in which they are one again."""
        nodes = np.flatnonzero(more)
        if not nodes.size:
            return self
        vectors = self._mixed(self.basis.vectors[:, nodes])
        mass = np.eye(self.size) + (vectors * more[nodes]) @ vectors.T
        inverse: Floats = np.linalg.inv(np.linalg.cholesky(mass))
        twin = self.recombined(inverse.T)
        assert twin._mix is not None
        twin.whole_box = twin.whole_box + twin._mixed(self.basis.vectors[:, nodes]) @ more[nodes]
        return twin

    def within(self, other: Image) -> Floats:
        """The matrix that takes these coordinates to those of an image in all of the same basis."""
        found: Floats = np.eye(self.basis.size) if self._mix is None else self._mix
        if other._mix is not None:
            found = np.asarray(np.linalg.solve(other._mix, found), dtype=float)
        return found

    def _project_change(self, group: LinkGroup) -> Floats:
        fields, given = self.basis.fields, self._given
        found = np.empty((self.basis.size, fields.shape[0]))
        _project_group(group, fields, given, 0, 0, found)
        if self._mix is None:
            return found
        return self._mix.T @ np.concatenate((found[:, :given], found[:, given:] @ self._mix), axis=1)

    def _project(self, fields: Floats, before: Image | None) -> None:
        """Reference operator and those of moving groups, each tested with the basis, shape (size, fields)."""
        given, old = self._given, before.size if before else 0
        vectors, matrix = self.basis.vectors, self.projector.matrix
        self._base = np.empty((self.size, fields.shape[0]))
        if before:
            self._base[:old, : given + old] = before._base
        fresh = given + old if before else 0
        self._base[:, fresh:] = vectors @ (matrix @ fields[fresh:].T)
        self._base[old:, :fresh] = (matrix.T @ vectors[old:].T).T @ fields[:fresh].T
        self._groups = np.empty((len(self.projector.whole), self.size, fields.shape[0]))
        for row, moving in enumerate(self.projector.whole):
            if before:
                self._groups[row, :old, :fresh] = before._groups[row]
            _project_group(moving.group, fields, given, old, fresh, self._groups[row])
        differences = [patches.difference(fields) for patches, _ in self.projector.patched]
        self._differences = np.concatenate([np.zeros((fields.shape[0], 0)), *differences], axis=1)
        self._patch_weight = np.concatenate([np.zeros(0), *(patches.weight for patches, _ in self.projector.patched)])

    def _reading_rows(self, fields: Floats) -> Floats:
        """Rows that give each temperature an operating point or a law reads, in the order `_change` takes them."""
        operating = self.model.operating
        rows = [fields[:, operating.feeds[name]] for name in operating.air]
        rows += [fields[:, operating.coolant_nodes[name]].mean(axis=1) for name in operating.loops]
        laws = [moving.law for moving in self.projector.whole] + [p.law for p, _ in self.projector.patched]
        rows += [fields[:, mean.nodes] @ mean.shares for law in laws for mean in law.means]
        lone = np.array(rows).reshape(-1, fields.shape[0])
        return np.concatenate((lone, *(end.T for patches, _ in self.projector.patched for end in patches.ends(fields))))

    def _all(self, x: Floats, inputs: Inputs) -> Floats:
        return np.concatenate(([1.0], inputs.places, x))

    def balance(self, x: Floats, inputs: Inputs) -> tuple[Change, Floats]:
        """The change of strengths at a state, and the heat left to store."""
        everything = self._all(x, inputs)
        change = self._change(everything, inputs)[1]
        return change, self._left(change, everything, inputs)

    def left(self, operator: Change, x: Floats, inputs: Inputs) -> Floats:
        """The heat left to store at given strengths."""
        return self._left(operator, self._all(x, inputs), inputs)

    def _left(self, change: Change, everything: Floats, inputs: Inputs) -> Floats:
        left: Floats = self._heat @ inputs.watts - self._base @ everything
        if change.groups.size:
            left -= change.groups @ (self._groups @ everything)
        if change.patches.size:
            left -= self._differences[self._given :] @ (change.patches * (everything @ self._differences))
        return left

    def _change(self, everything: Floats, inputs: Inputs) -> tuple[Conditions, Change]:
        reading, operating, projector = self._reading @ everything, self.model.operating, self.projector
        airs, at = len(operating.air), len(operating.air) + len(operating.loops)
        air, loops = operating.points(reading[:airs].tolist(), reading[airs:at].tolist(), inputs.controls)
        now = Conditions(everything[:0], air, loops, operating.pressure, inputs.controls.speeds)
        groups = np.empty(len(projector.whole))
        for row, moving in enumerate(projector.whole):
            law = moving.law
            means = reading[at : at + len(law.means)].tolist()
            at += len(law.means)
            groups[row] = law.formula(now, *means) - moving.at_rest
        lone = []
        for patch, _ in projector.patched:
            lone.append(reading[at : at + len(patch.law.means)].tolist())
            at += len(patch.law.means)
        patches = [np.zeros(0)]
        for (patch, at_rest), read in zip(projector.patched, lone, strict=True):
            ends = []
            for _ in patch.law.ends:
                ends.append(reading[at : at + patch.weight.size])
                at += patch.weight.size
            patches.append(patch.law.formula(now, *read, *ends, *patch.given) - at_rest)
        return now, Change(groups, np.concatenate(patches) * self._patch_weight)

    def factor(self, operator: Change, span: float) -> DenseFactor:
        """Dense factors of 1/span + K."""
        return DenseFactor(self.matrix(operator) + np.eye(self.size) / span)

    def matrix(self, operator: Change) -> Floats:
        """K at given strengths, shape (size, size)."""
        given = self._given
        square = self._base[:, given:].copy()
        if operator.groups.size:
            square += np.tensordot(operator.groups, self._groups[:, :, given:], 1)
        if operator.patches.size:
            moving = self._differences[given:]
            square += (moving * operator.patches) @ moving.T
        return square

    def mark(self, operator: Change) -> Floats:
        """Strengths of the moving groups."""
        return self._reference + operator.groups

    def strayed(self, mark: Floats, operator: Change, span: float) -> bool:
        """Whether any moving group is more than twice or less than half as strong as before."""
        return too_far(np.abs(self.mark(operator)), np.abs(mark))

    def settle(self, x: Floats, inputs: Inputs, settled: float) -> Floats:
        """Every coordinate has capacity: nothing to settle."""
        return x

    def kelvin(self, change: Floats) -> float:
        """The largest change of lumped nodes and of cells spread over the sheets."""
        return float(np.abs(self._watch @ change).max(initial=0.0))

    def watts(self, heat: Floats) -> float:
        """All nodes' heat together."""
        return float(self.whole_box @ heat)

    def joules(self, change: Floats) -> float:
        """Heat stored by a change of coordinates."""
        return float(self.whole_box @ change)

    def conditions(self, x: Floats, inputs: Inputs) -> Conditions:
        """Operating points at a state; they carry no temperatures."""
        return self._change(self._all(x, inputs), inputs)[0]

    def field(self, x: Floats) -> Floats:
        """Temperatures of all nodes, °C."""
        basis = self.basis
        if self._mix is not None:
            x = self._mix @ x
        found: Floats = basis.fields[0, : basis.nodes] + x @ basis.vectors[: x.size]
        return found

    def readings(self, watches: list[Watch]) -> Readings:
        """Watches read from coordinates."""
        return RowReadings(self.basis, watches, self._mix)


def _conditions_at(model: Model, temperature: Floats) -> Iterator[Conditions]:
    """What the laws of a case see at given temperatures, with each set of mishaps."""
    speeds = {device: 1.0 for table in model.case.spec.governor.values() for device in table.drives}
    for time in model.program.stretches().values():
        yield model.operating.conditions(temperature, model.program.at(time, speeds).controls)


def _project_group(group: LinkGroup, fields: Floats, given: int, old: int, fresh: int, out: Floats) -> None:
    """vᵀ M_g field for every vector and field, shape (size, fields); the corner [:old, :fresh] is there already."""
    receiving = fields[:, group.receiver]
    difference = receiving - fields[:, group.sender]
    tested = (difference if group.mutual else receiving)[given:] * group.weight
    out[:, fresh:] = tested @ difference[fresh:].T
    out[old:, :fresh] = tested[old:] @ difference[:fresh].T

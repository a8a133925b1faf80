"""What a reduced history leaves unaccounted for in the full model's heat balance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.dynamics import FullDynamics
from thermsim.solve.governors import speeds_of
from thermsim.solve.reduced.image import Image
from thermsim.solve.reduced.poles import Poles
from thermsim.solve.reduced.samples import Sample, since_jump


@dataclass(frozen=True)
class Residual:
    """Heat that no rate of change within a basis takes up, at samples of a history.

    `heat`: W, shape (samples, nodes). `scaled`: the same as the energy it stands for, node by node. `alone`: the most
    any node would be off for it if it stood alone, K, shape (samples,). `bias`: what strengths taken as one over a
    patch put the field off by, K. `since`: time since the last jump, s.
    """

    samples: list[Sample]
    since: list[float]
    heat: Floats
    scaled: Floats
    alone: Floats
    bias: float

    @property
    def sizes(self) -> Floats:
        """Size at each sample."""
        found: Floats = np.linalg.norm(self.scaled, axis=1)
        return found

    def leads(self, samples: list[int], most: int, negligible: float) -> list[Floats]:
        """Leading directions of the heat at some samples; `negligible`: share of the largest size of all."""
        largest = float(self.sizes.max())
        strengths, mixes = np.linalg.eigh(self.scaled[samples] @ self.scaled[samples].T)
        order = range(-1, -min(most, strengths.size) - 1, -1)
        return [mixes[:, k] @ self.heat[samples] for k in order if strengths[k] > (negligible * largest) ** 2]


def residual(full: FullDynamics, image: Image, poles: Poles, samples: list[Sample]) -> Residual:
    """The residual of an image's history at samples.

    One seen soon after a jump has not lasted long: it counts for the time since.
    """
    basis, program = image.basis, full.model.program
    heat, scaled = (np.empty((len(samples), full.model.node_count)) for _ in range(2))
    since = [since_jump(sample, program.breaks) for sample in samples]
    alone, bias = np.empty(len(samples)), 0.0
    with collect_ranges():
        for k, sample in enumerate(samples):
            speeds = speeds_of(full.laws, list(sample.governors))
            inputs = program.at(sample.time, speeds, sample.segment)
            whole = full.balance(image.field(sample.x), inputs)[1]
            change, projected = image.balance(sample.x, inputs)
            missed = image.factor(change, poles.shift).solve(basis.vectors @ whole - projected)
            bias = max(bias, image.kelvin(missed))
            heat[k] = basis.outside(whole)
            diagonal = poles.diagonal(sample.segment) + poles.capacity / min(since[k], poles.shift)
            scaled[k] = heat[k] / np.sqrt(diagonal)
            alone[k] = np.abs(heat[k] / diagonal).max()
    return Residual(samples, since, heat, scaled, alone, bias)

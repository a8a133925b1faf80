"""How every part and the noise answer to each input, by adjoint solves of one linearised steady state."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import build, rebuild
from thermsim.model.system import Model
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.adjoint import Linearised, governor_rests, heat_at
from thermsim.solve.factor import SolveFailed
from thermsim.solve.governors import governor_laws
from thermsim.solve.noise import noise_known, noise_levels
from thermsim.studies.settled import Settled, Settler
from thermsim.studies.sweep.sampling import Input

NOISE = "noise"
SMALL = 1e-3  # of an input's spread, for what the heat balance answers to it
SLIGHTLY_FASTER = 1e-4  # for what noise answers to a speed
LEAST_SPEED = 1e-3  # of rated, under which a device makes no noise that a slope could be of
BY = 0.01  # of the value (of the spread, where that is a shift), for finite differences
CHECKED = 3  # inputs that are checked by finite differences


@dataclass(frozen=True)
class Output:
    """What is asked for: a part's temperature (°C) by its address, or the noise with the room, dB(A)."""

    name: str
    unit: str
    nominal: float


@dataclass(frozen=True)
class Load:
    """What an input does, by unit of its amount, with nothing else moved.

    Heat left in each node (W), what brings the governors off from resting, and noise at given speeds (dB).
    """

    heat: Floats
    rests: Floats
    noise: float


class Sensitivities:
    """Slopes of all outputs to all inputs about a steady state."""

    def __init__(self, settled: Settled, inputs: Sequence[Input]) -> None:
        if not settled.steady.settles:
            raise SolveFailed("the governors never rest: there is no steady state to ask how it answers to inputs")
        self.settled, self.inputs = settled, list(inputs)
        self.linear = Linearised(settled.model, settled.steady)
        with collect_ranges():
            self.loads = {one.name: self._load(one) for one in self.inputs}

    @cached_property
    def outputs(self) -> list[Output]:
        """Every part, and the noise where any was stated."""
        found = [Output(f"part.{name}", "degC", degc) for name, degc in self.settled.parts.items()]
        noise = self.settled.noise
        return found if noise is None else [*found, Output(NOISE, "dB(A)", noise[1])]

    @cached_property
    def slopes(self) -> dict[str, Floats]:
        """Of each output to each input, by unit of its amount; shape (outputs,), by the input's name."""
        adjoints = [self._adjoint(output) for output in self.outputs]
        is_noise = np.array([output.name == NOISE for output in self.outputs])
        return {
            name: np.array([heat @ load.heat + rests @ load.rests for heat, rests in adjoints]) + is_noise * load.noise
            for name, load in self.loads.items()
        }

    def fields(self) -> list[Floats]:
        """How the whole box answers to each input, K by node for half its spread."""
        return [
            0.5 * (one.spread.high - one.spread.low) * self.linear.solve(load.heat, load.rests)[0]
            for one, load in zip(self.inputs, self.loads.values(), strict=True)
        ]

    def effects(self, one: Input) -> Floats:
        """What an input's low and high end change each output by, shape (outputs, 2)."""
        ends = np.array([one.spread.low, one.spread.high]) - one.at_rest
        found: Floats = np.outer(self.slopes[one.name], ends)
        return found

    def _adjoint(self, output: Output) -> tuple[Floats, Floats]:
        model, of_nodes = self.settled.model, np.zeros(self.settled.model.node_count)
        if output.name == NOISE:
            return self.linear.adjoint(of_nodes, self._noise_by_speed())
        of_nodes[model.numbers(output.name)[0]] = 1.0
        return self.linear.adjoint(of_nodes, np.zeros(len(self.linear.laws)))

    def _noise_by_speed(self) -> Floats:
        """Noise by governed speed, dB."""
        settled, slopes = self.settled, []
        for law in self.linear.laws:
            speed = settled.speeds[law.table.drives[0]]
            if speed < LEAST_SPEED:
                slopes.append(0.0)
                continue
            levels = [
                noise_levels(settled.model, settled.speeds | dict.fromkeys(law.table.drives, speed + by))[1]
                for by in (-SLIGHTLY_FASTER, SLIGHTLY_FASTER)
            ]
            slopes.append((levels[1] - levels[0]) / (2 * SLIGHTLY_FASTER))
        return np.array(slopes)

    def _load(self, one: Input) -> Load:
        """By central differences of the heat balance at given temperatures and speeds."""
        by = SMALL * (one.spread.high - one.spread.low)
        (heat, rests, noise), (below, rests_below, noise_below) = (
            self._balance(self.settled.case.with_changes(one.changes(one.at_rest + step))) for step in (by, -by)
        )
        return Load((heat - below) / (2 * by), (rests_below - rests) / (2 * by), (noise - noise_below) / (2 * by))

    def _balance(self, case: Case) -> tuple[Floats, Floats, float]:
        steady = self.settled.steady
        model = rebuild(self.settled.model, case) or build(case)
        heat = heat_at(model, steady.temperature, steady.speeds, steady.time)
        rests = governor_rests(governor_laws(model), steady.temperature, steady.speeds)
        return heat, np.array([rest.off for rest in rests]), _noise_at(model, steady.time, steady.speeds)


def _noise_at(model: Model, time: float, governed: Mapping[str, float]) -> float:
    """Noise with the room at the speeds that a model's own tables and governors set, dB(A)."""
    if not noise_known(model):
        return 0.0
    speeds = {device: float(speed) for device, speed in model.program.at(time, governed).controls.speeds.items()}
    return noise_levels(model, speeds)[1]


def ranked(found: Sensitivities, output: int) -> list[Input]:
    """Inputs by how far their spread moves an output, most first."""
    return sorted(found.inputs, key=lambda one: -float(np.abs(found.effects(one)[output]).max()))


def checked(found: Sensitivities, names: Sequence[str]) -> dict[str, Any]:
    """Some inputs' slopes beside finite differences of settled states, 1 % up and down."""
    rows: list[dict[str, Any]] = []
    settler, worst = Settler(), 0.0
    for one in (one for one in found.inputs if one.name in names):
        by = BY if one.spread.is_factor else BY * (one.spread.high - one.spread.low)
        above, below = (
            outputs_of(settler.settle(found.settled.case.with_changes(one.changes(one.at_rest + step))))
            for step in (by, -by)
        )
        difference = (above - below) / (2 * by)
        largest = float(np.abs(difference).max(initial=0.0))
        missed = float(np.abs(difference - found.slopes[one.name]).max(initial=0.0))
        rows.append({"input": one.name, "largest_relative": missed / largest if largest else 0.0})
        worst = max(worst, rows[-1]["largest_relative"])
    return {"by": "central finite differences of settled states", "inputs": rows, "largest_relative": worst}


def outputs_of(settled: Settled) -> Floats:
    """Temperatures of all parts and the noise, in the order of `Sensitivities.outputs`."""
    noise = settled.noise
    return np.array([*settled.parts.values(), *([noise[1]] if noise else [])])


def tornado(found: Sensitivities) -> dict[str, Any]:
    """Every input's effect on every output, the widest on the worst part first, and the widest few checked."""
    outputs = found.outputs
    names = [output.name for output in outputs]
    worst = found.settled.worst
    lead = names.index(f"part.{worst[0]}") if worst else 0
    order = ranked(found, lead) if outputs else list(found.inputs)
    chosen = dict.fromkeys(one.name for one in order[:CHECKED])
    if NOISE in names:
        chosen |= dict.fromkeys(one.name for one in ranked(found, names.index(NOISE))[:CHECKED])
    return {
        "worst_part": worst[0] if worst else None,
        "worst_margin_k": worst[1] if worst else None,
        "outputs": [{"name": output.name, "unit": output.unit, "nominal": output.nominal} for output in outputs],
        "rows": [
            {
                "input": one.name,
                "effects": dict(zip(names, found.effects(one).tolist(), strict=True)),
                "per_unit": dict(zip(names, (found.slopes[one.name] / _unit(one)).tolist(), strict=True)),
            }
            for one in order
        ],
        "checked": checked(found, list(chosen)),
    }


def _unit(one: Input) -> float:
    """The value (SI) that an amount of one stands for, where there is one; else a factor of one."""
    nominal = one.targets[0].nominal
    return nominal if one.spread.is_factor and nominal else 1.0

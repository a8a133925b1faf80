"""Recording a history: whole fields at frames, curves at many times, operating points at steps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from thermsim.model.arrays import Floats, Ints
from thermsim.model.operating import Conditions
from thermsim.model.program import Inputs
from thermsim.model.system import Model
from thermsim.solve.dynamics import Dynamics, Watch
from thermsim.solve.governors import GovernorState, speeds_of
from thermsim.solve.ledger import outflows
from thermsim.solve.noise import noise_levels
from thermsim.solve.tr_bdf2 import State, Step

EVEN_SAMPLES = 600
EARLY_SAMPLES = 60


@dataclass(frozen=True)
class Curve:
    """One recorded quantity: where it belongs, its unit and what it is."""

    group: str  # parts, solids, air, coolant, governor, noise, probes
    name: str
    unit: str
    label: str


@dataclass
class Frame:
    """The whole state at one time."""

    time: float
    temperature: Floats
    ledger: dict[str, float]
    supplied: float


@dataclass
class Tally:
    """Sums and counts of a record so far: joules, steps, frames and samples taken."""

    supplied: float = 0.0
    stored: float = 0.0
    rejected: float = 0.0
    steps: int = 0
    frames: int = 0
    samples: int = 0


@dataclass
class Recorder:
    """Follows a history step by step; gives frames as their times are passed."""

    dynamics: Dynamics
    frame_times: Floats
    curve_times: Floats
    curves: dict[Curve, list[float]] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)
    last_supplied: float = 0.0
    _last: tuple[Floats, Inputs] | None = None

    def __post_init__(self) -> None:
        self.model = self.dynamics.model
        watched = watched_nodes(self.model)
        self._watched = list(watched)
        self._readings = self.dynamics.readings(list(watched.values()))

    def take(self, step: Step) -> Iterator[Frame]:
        """Record a step; yields the frames that lie in it."""
        # a step may end on a jump of the inputs, which is not yet its own
        segment = 0.5 * (step.first.time + step.last.time)
        before, after = (self._operating(state, segment) for state in (step.first, step.last))
        tally, last = self.tally, step.last.time
        passed = int(np.searchsorted(self.curve_times, last, side="right"))
        times = self.curve_times[tally.samples : passed]
        if times.size:
            for curve, values in zip(self._watched, self._readings.of(step, times).T, strict=True):
                self._put(curve, values)
            share = (times - step.first.time) / (step.last.time - step.first.time)
            for curve, value in before.items():
                self._put(curve, value + share * (after[curve] - value))
            tally.samples = passed
        while tally.frames < self.frame_times.size and self.frame_times[tally.frames] <= last:
            yield self._frame(float(self.frame_times[tally.frames]), step)
            tally.frames += 1
        tally.supplied += step.supplied
        tally.stored += step.stored
        tally.rejected += step.rejected
        tally.steps += 1
        self.last_supplied = step.last.supplied
        self._last = step.last.x, self._inputs(step.last.time, step.last.governors, segment)

    def last_conditions(self) -> Conditions:
        """Conditions at the last step's end."""
        assert self._last is not None
        x, inputs = self._last
        return self.model.conditions(self.dynamics.field(x), inputs)

    def _put(self, curve: Curve, values: Floats) -> None:
        self.curves.setdefault(curve, []).extend(values.tolist())

    def _inputs(self, time: float, governors: tuple[GovernorState, ...], segment: float) -> Inputs:
        return self.model.program.at(time, speeds_of(self.dynamics.laws, list(governors)), segment)

    def _frame(self, time: float, step: Step) -> Frame:
        temperature = self.dynamics.field(step.at(time))
        inputs = self._inputs(time, step.governors_at(time), 0.5 * (step.first.time + step.last.time))
        now = self.model.conditions(temperature, inputs)
        strengths = self.model.strengths(now)
        return Frame(time, temperature, outflows(self.model, now, strengths), inputs.supplied)

    def _operating(self, state: State, segment: float) -> dict[Curve, float]:
        inputs = self._inputs(state.time, state.governors, segment)
        now = self.dynamics.conditions(state.x, inputs)
        return operating_curves(self.model, now, dict(inputs.controls.speeds))


def watched_nodes(model: Model) -> dict[Curve, Watch]:
    """The temperatures worth a curve, and where each is read."""
    spec, names = model.case.spec, model.site.builder.names
    found: dict[Curve, Watch] = {}

    def add(group: str, name: str, label: str, nodes: Ints, shares: Floats | None = None) -> None:
        found[Curve(group, name, "degC", label)] = Watch(nodes, shares)

    for name in spec.part:
        add("parts", name, f"{name}", names[f"part.{name}"])
    for kind in ("sink", "wall", "block"):
        for name in getattr(spec, kind):
            add("solids", f"{kind}.{name}", f"{kind} {name}", names[f"{kind}.{name}"])
    for address in model.site.sheets:
        ends, plain = model.site.ends(address), address.replace(".", " ")
        add("solids", f"{address} mean", f"mean of {plain}", ends.node, ends.share)
        add("solids", f"{address} max", f"hottest of {plain}", ends.node)
    for name, chain in model.site.chains.items():
        add("air", f"{name} outlet", f"air leaving airway {name}", chain[-1:])
    for name in spec.loop:
        add("coolant", f"{name} pump inlet", f"coolant at the pump of {name}", names[f"loop.{name} pump"])
    for kind in ("plate", "radiator"):
        for name in getattr(spec, kind):
            address = f"{kind}.{name} coolant" if kind == "plate" else f"{kind}.{name}"
            last = names.get(f"{kind}.{name} outlet", names[address])[-1:]  # where several grooves meet, if there are
            add("coolant", f"{kind}.{name} outlet", f"coolant leaving {kind} {name}", last)
    for name, probe in spec.probe.items():
        cell = model.site.sheets[probe.on].cell_at(*probe.at)
        add("probes", name, f"probe {name}", np.array([cell]))
    return found


def operating_curves(model: Model, now: Conditions, speeds: dict[str, float]) -> dict[Curve, float]:
    """Flows, speeds and noise at one instant."""
    spec = model.case.spec
    found: dict[Curve, float] = {}
    for name, air in now.air.items():
        found[Curve("air", f"{name} flow", "m3/h", f"air flow in {name}")] = 3600 * air.flow
    for name, loop in now.loops.items():
        found[Curve("coolant", f"{name} flow", "L/min", f"coolant flow in {name}")] = 6e4 * loop.flows["pump"]
    for name, governor in spec.governor.items():
        found[Curve("governor", name, "%", f"speed set by governor {name}")] = 100 * speeds[governor.drives[0]]
    source, total = noise_levels(model, speeds)
    found[Curve("noise", "sources", "dB(A)", "fans and pumps together")] = source
    found[Curve("noise", "with room", "dB(A)", "with the room's own noise")] = total
    return found


def sample_times(end: float, breaks: tuple[float, ...]) -> Floats:
    """Times of the curves: even, closer together after switch-on and after each jump of the inputs."""
    early = np.geomspace(0.05, min(60.0, end), EARLY_SAMPLES)
    pieces = [np.linspace(0.0, end, EVEN_SAMPLES + 1), early]
    if len(breaks) <= 20:
        pieces += [start + early for start in breaks]
    times = np.unique(np.concatenate(pieces))
    kept: Floats = times[times <= end]
    return kept

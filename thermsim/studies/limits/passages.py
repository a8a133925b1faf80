"""Passages that air and coolant flow through: near or in transition, and short against their entry length."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from thermsim.model.fins import Fins
from thermsim.model.hydraulics import LoopHydraulics, path_length
from thermsim.model.operating import LoopPoint
from thermsim.model.system import Model
from thermsim.physics.ducts import (
    LAMINAR_UP_TO,
    NEAR_TRANSITION_FROM,
    TURBULENT_FROM,
    Duct,
    friction_factor,
    nusselt,
    rectangular_duct,
    regime,
    reynolds,
)
from thermsim.physics.entry import mean_nusselt
from thermsim.solve.steady import Steady
from thermsim.studies.limits.entry import SHORT, TRANSITION, Limit, limit

UNCERTAIN = ("near transition", "transitional")
TOLD_GAIN = 1.1  # of a film: correlations are no better
TOLD_K = 0.5
MIDDLE = (LAMINAR_UP_TO + TURBULENT_FROM) / 2


@dataclass(frozen=True)
class Passage:
    """A stream in a passage whose film the model works out. `difference_k`: its wall over it, mean."""

    where: str
    duct: Duct
    reynolds: float
    prandtl: float
    length: float
    developing: bool
    difference_k: float

    @property
    def gain(self) -> float:
        """The film with its entry in every regime over the film as told."""
        short = self.duct.hydraulic_diameter / self.length
        told = nusselt(self.reynolds, self.prandtl, self.duct.laminar_nu, short if self.developing else 0.0)
        return mean_nusselt(self.reynolds, self.prandtl, self.duct.laminar_nu, short) / told.value

    @property
    def too_warm_k(self) -> float:
        """How much less the wall would be over the stream with that film, K."""
        return abs(self.difference_k) * (1.0 - 1.0 / self.gain)


def passage_limits(model: Model, steadies: Sequence[Steady]) -> Iterator[Limit]:
    """Transition and short passages, at the worst of some steady states."""
    told = [one for steady in steadies for one in passages(model, steady)]
    numbers = {one.where: (one.reynolds, one.duct.laminar_f_re) for one in told}
    for steady in steadies:
        for name, hydraulics in model.operating.loops.items():
            numbers |= loop_reynolds(hydraulics, steady.conditions.loops[name])
    yield from transition(numbers)
    short = {one.where: one for one in told if one.gain > TOLD_GAIN and one.too_warm_k > TOLD_K}
    if short:
        first = max(short.values(), key=lambda one: one.too_warm_k)
        yield limit(
            SHORT, short,
            f"{first.where} is short against the length its profiles take to develop, and its film is told as if it "
            f"were long: {100 * (1 - 1 / first.gain):.0f} % less than with its entry. What it cools reads about "
            f"{first.too_warm_k:.1f} K high: on the safe side",
            first.too_warm_k, film_gain=first.gain, too_warm_k=first.too_warm_k,
        )  # fmt: skip


def transition(numbers: dict[str, tuple[float, float]]) -> Iterator[Limit]:
    """What lies near or in transition, of Reynolds number and laminar f·Re by address, and what that may cost."""
    there = {where: told for where, told in numbers.items() if regime(told[0]) in UNCERTAIN}
    if not there:
        return
    values = [re for re, _ in there.values()]
    low, high = round(min(values)), round(max(values))
    span = f"Reynolds number {low}" if low == high else f"Reynolds numbers {low} to {high}"
    less, more = zip(*(friction_span(re, f_re) for re, f_re in there.values()), strict=True)
    text = f"{span}: between {NEAR_TRANSITION_FROM:.0f} and {TURBULENT_FROM:.0f} film and pressure drop are uncertain. "
    text += f"Turbulent after all, friction would be {max(more):.1f} times what is told"
    text += f"; still laminar, {min(less):.2f} times" if min(less) < 0.995 else ""
    text += ". Take flows as a range, or measure one"
    weight = 1.0 - min(abs(re - MIDDLE) for re in values) / TURBULENT_FROM
    yield limit(
        TRANSITION, there, text, weight,
        reynolds_from=min(values), reynolds_to=max(values), friction_from=min(less), friction_to=max(more),
    )  # fmt: skip


def friction_span(re: float, f_re: float) -> tuple[float, float]:
    """Friction if the flow is laminar, and if it is turbulent (a smooth wall), over what is told."""
    told = friction_factor(re, f_re).value
    turbulent = friction_factor(TURBULENT_FROM, f_re).value * (TURBULENT_FROM / re) ** 0.25  # Blasius from there on
    return min(f_re / re / told, 1.0), max(turbulent / told, 1.0)


def loop_reynolds(hydraulics: LoopHydraulics, point: LoopPoint) -> dict[str, tuple[float, float]]:
    """Reynolds number and laminar f·Re of each element of a loop whose duct is known."""
    found = {}
    for address, passage in hydraulics.passages.items():
        re = passage.reynolds(point.flows[address], point.liquid)
        if re is not None and passage.duct is not None:
            found[address] = re, passage.duct.laminar_f_re
    return found


def passages(model: Model, steady: Steady) -> Iterator[Passage]:
    """Grooves of plates, airways with a film of law "duct", and gaps between the fins of sinks."""
    yield from _grooves(model, steady)
    spec = model.case.spec
    for name, film in spec.film.items():
        if film.law == "duct":
            airway = film.to.removeprefix("airway.")
            way, air = spec.airway[airway], steady.conditions.air[airway]
            assert way.size is not None  # the case was checked
            assert way.height is not None
            axis = 0 if way.direction.endswith("x") else 1
            duct = rectangular_duct(way.size[1 - axis], way.height)
            re = air.flow / duct.area * duct.hydraulic_diameter / air.state.kinematic_viscosity
            length = film.length or way.size[axis]
            difference = _difference(model, steady, f"film.{name}")
            yield Passage(f"airway.{airway}", duct, re, air.state.prandtl, length, True, difference)
    for name, sink in spec.sink.items():
        if sink.fins is not None and sink.resistance is None:
            fins, air = Fins.of(sink, spec.airway[sink.airway]), steady.conditions.air[sink.airway]
            duct = rectangular_duct(fins.height, fins.gap)
            re = fins.velocity(air.flow) * duct.hydraulic_diameter / air.state.kinematic_viscosity
            difference = _difference(model, steady, f"sink.{name}")
            yield Passage(f"sink.{name}", duct, re, air.state.prandtl, fins.along, True, difference)


def _grooves(model: Model, steady: Steady) -> Iterator[Passage]:
    for loop, hydraulics in model.operating.loops.items():
        point = steady.conditions.loops[loop]
        for address in hydraulics.passages:
            if address.startswith("plate.") and point.flows[address] > 0:
                channel = model.case.spec.plate[address.removeprefix("plate.")].channel
                duct = rectangular_duct(channel.width, channel.depth, channel.heated_walls)
                each = point.flows[address] / len(channel.grooves)
                re = reynolds(duct, each, point.liquid.density, point.liquid.viscosity)
                yield Passage(
                    address, duct, re, point.liquid.prandtl, path_length(channel.path), channel.entry == "developing",
                    _difference(model, steady, f"{address} channel"),
                )  # fmt: skip


def _difference(model: Model, steady: Steady, name: str) -> float:
    """Mean difference over the film of a group's links (of all that have its name), K."""
    heat = conductance = 0.0
    for k, group in enumerate(model.groups):
        if group.name == name:
            strength = steady.strengths.get(k, 1.0)
            heat += float(model.flow(group, strength, steady.conditions.temperature).sum())
            conductance += float((strength * group.weight).sum())
    return heat / conductance if conductance else 0.0

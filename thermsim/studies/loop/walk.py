"""Along a loop's path at a steady state: how warm the coolant enters and leaves each element."""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.model.hydraulics import Branches, Series
from thermsim.model.operating import LoopPoint
from thermsim.studies.settled import Settled


@dataclass(frozen=True)
class Leg:
    """One element: flow m³/s, coolant temperatures °C, and the heat the coolant takes up in it, W."""

    flow: float
    inlet_degc: float
    outlet_degc: float
    watts: float


def legs(settled: Settled, loop: str) -> dict[str, Leg]:
    """Every element of a loop by address, in the order of its path; the pump first, under its own address."""
    point = settled.steady.conditions.loops[loop]
    walk = _Walk(settled, point)
    pump = walk.degc(f"loop.{loop} pump")
    back = walk.series(settled.model.operating.loops[loop].series, pump)
    rate = point.capacity_rate("pump")
    first = Leg(point.flows["pump"], back, pump, rate * (pump - back))
    return {settled.case.spec.loop[loop].pump: first, **walk.found}


class _Walk:
    def __init__(self, settled: Settled, point: LoopPoint) -> None:
        self.settled = settled
        self.point = point
        self.found: dict[str, Leg] = {}

    def degc(self, node: str) -> float:
        """Temperature of the last node of a name."""
        return float(self.settled.steady.temperature[self.settled.model.numbers(node)[-1]])

    def series(self, series: Series, entering: float) -> float:
        """Walk a series from the temperature that enters to the one that leaves, °C."""
        for item in series:
            entering = self._element(item, entering) if isinstance(item, str) else self._branches(item, entering)
        return entering

    def _element(self, address: str, entering: float) -> float:
        leaving = self.degc(self._outlet(address))
        watts = self.point.capacity_rate(address) * (leaving - entering)
        self.found[address] = Leg(self.point.flows[address], entering, leaving, watts)
        return leaving

    def _branches(self, branches: Branches, entering: float) -> float:
        mixed = total = 0.0
        for way in branches.ways:
            leaving = self.series(way, entering)
            flow = way_flow(way, self.point)
            mixed, total = mixed + flow * leaving, total + flow
        return mixed / total if total > 0 else entering

    def _outlet(self, address: str) -> str:
        kind, _, name = address.partition(".")
        if kind == "plate":
            grooves = len(self.settled.case.spec.plate[name].channel.grooves)
            return f"{address} outlet" if grooves > 1 else f"{address} coolant"
        return f"{address} coolant" if kind == "block" else address


def way_flow(way: Series, point: LoopPoint) -> float:
    """Flow along one of several branches, m³/s."""
    first = way[0]
    return point.flows[first] if isinstance(first, str) else sum(way_flow(inner, point) for inner in first.ways)

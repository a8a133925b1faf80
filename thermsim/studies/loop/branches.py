"""Branches side by side: who gets how much, and what an airlock leaves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from thermsim.model.hydraulics import Branches, Series, elements, passable
from thermsim.studies.loop.walk import Leg, way_flow
from thermsim.studies.settled import Settled

Facts = dict[str, Any]
STARVED = 0.7  # of the flow its share of the heat would ask for


def branch_facts(settled: Settled, loop: str, walked: dict[str, Leg]) -> list[Facts]:
    """Each place where the loop parts: every way's flow, heat and rise, and the loop's flow were that way airlocked."""
    hydraulics, point = settled.model.operating.loops[loop], settled.steady.conditions.loops[loop]
    controls = settled.steady.inputs.controls
    speed = controls.speeds.get(hydraulics.loop.pump, 1.0)
    told = []
    for branches in _all(hydraulics.series):
        flows = [way_flow(way, point) for way in branches.ways]
        taken = [max(sum(walked[address].watts for address in elements(way)), 0.0) for way in branches.ways]
        ways = []
        for way, flow, watts in zip(branches.ways, flows, taken, strict=True):
            shut = controls.closed | frozenset(elements(way)[:1])
            left = hydraulics.flows(point.temperature_degc, speed, shut)["pump"]
            share, heat = (_of(one, sum(many)) for one, many in ((flow, flows), (watts, taken)))
            ways.append({
                "elements": elements(way),
                "flow_l_per_min": 6e4 * flow,
                "share_of_flow": share,
                "watts": watts,
                "share_of_heat": heat,
                "starved": heat > 0 and share < STARVED * heat,
                "airlocked": not passable(way, controls.closed),
                "loop_flow_if_airlocked_l_per_min": 6e4 * left,
            })  # fmt: skip
        told.append({"ways": ways})
    return told


def _all(series: Series) -> Iterator[Branches]:
    for item in series:
        if isinstance(item, Branches):
            yield item
            for way in item.ways:
                yield from _all(way)


def _of(part: float, whole: float) -> float:
    return part / whole if whole > 0 else 0.0

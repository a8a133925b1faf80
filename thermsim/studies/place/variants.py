"""At the winner's place: the channel entered from either end, laid along x or y, and laid out in other ways."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from thermsim.studies.place.exact import Asked, Exactly
from thermsim.studies.place.laid import Laid
from thermsim.studies.place.layouts import LAYOUTS, Layout, NoRoom, layout
from thermsim.studies.place.rules import Verdict
from thermsim.studies.place.setup import Search
from thermsim.studies.place.spot import Spot
from thermsim.studies.place.told import millimetres

Facts = dict[str, Any]


def channel_ways(exactly: Exactly, search: Search, best: Verdict) -> list[Facts]:
    """Every way the searched channel can lie under the same outline, each end as inlet; what forbids one is told."""
    ways = []
    for spot, one in _ways(search, best.spot, search.first.layout.name):
        for backwards in (False, True):
            way = one.reversed() if backwards else one
            told = {"along": _axis(spot, way), "rotation_deg": spot.turn}
            told |= {"inlet": "at its end" if backwards else "at its start"}
            ways.append((told, replace(search.first.rules, layout=way).judge(spot), way))
    exactly.ahead([_asked(exactly, search, verdict, way) for _, verdict, way in ways if verdict.allowed])
    return [told | _solved(exactly, search, verdict, way, even_if_forbidden=False) for told, verdict, way in ways]


def other_layouts(exactly: Exactly, search: Search, best: Verdict) -> list[Facts]:
    """The searched layout, then each other one with the same number of passes, lying as rules and hoses like best."""
    laid: dict[str, tuple[Verdict, Layout] | NoRoom] = {search.first.layout.name: (best, search.first.layout)}
    for name in LAYOUTS:
        if name == search.first.layout.name:
            continue
        try:
            ways = [(replace(search.first.rules, layout=one).judge(spot), one)
                    for spot, one in _ways(search, best.spot, name)]  # fmt: skip
            laid[name] = min(ways, key=lambda way: (len(way[0].why), way[0].hose_length))
        except NoRoom as error:
            laid[name] = error
    exactly.ahead([_asked(exactly, search, *way) for way in laid.values() if not isinstance(way, NoRoom)])
    return [
        {"name": name, "allowed": False, "why": [str(way)], "path_mm": [], "beside_mm": []}
        if isinstance(way, NoRoom)
        else _layout(exactly, search, *way)
        for name, way in laid.items()
    ]


def _ways(search: Search, spot: Spot, name: str) -> Iterator[tuple[Spot, Layout]]:
    """A layout by name lying in every way that covers the same outline; one that was drawn keeps its axis.

    Raises `NoRoom` where the layout does not fit along the spot's own axis.
    """
    channel, place = search.spec.plate[search.first.plate].channel, search.place
    drawn = name == search.first.layout.name and place.layout == "as drawn"
    for quarter in (0, 180) if drawn else (0, 180, 90, 270):
        size = spot.size if quarter % 180 == 0 else spot.size[::-1]
        turned = Spot(spot.corner, (spot.turn + quarter) % 360, size)
        if drawn:
            yield turned, search.first.layout
            continue
        try:
            yield turned, layout(name, size, place.passes, channel.width, place.wall_to_channel)
        except NoRoom:
            if quarter % 180 == 0:
                raise


def _axis(spot: Spot, one: Layout) -> str:
    """Along which axis of the plan the coolant sets out."""
    first, second = (spot.to_plan(point) for point in one.grooves[0][:2])
    return "x" if abs(second[0] - first[0]) > abs(second[1] - first[1]) else "y"


def _layout(exactly: Exactly, search: Search, verdict: Verdict, one: Layout) -> Facts:
    spot = verdict.spot
    told = {"name": one.name, "along": _axis(spot, one), "rotation_deg": spot.turn}
    paths = [[millimetres(*spot.to_plan(point)) for point in groove] for groove in one.grooves]
    solved = _solved(exactly, search, verdict, one, even_if_forbidden=True)
    return told | solved | {"grooves": len(paths), "path_mm": paths[0], "beside_mm": paths[1:]}


def _asked(exactly: Exactly, search: Search, verdict: Verdict, one: Layout) -> Asked:
    return exactly.asked([Laid.by(search.first.plate, verdict, one)])


def _solved(exactly: Exactly, search: Search, verdict: Verdict, one: Layout, *, even_if_forbidden: bool) -> Facts:
    """Solved exactly if allowed; a layout is told of even if a hose or screw forbids it here."""
    facts: Facts = {"allowed": verdict.allowed, "why": list(verdict.why), "worst_margin_k": None}
    if not verdict.allowed and not even_if_forbidden:
        return facts
    exact = exactly.solve(_asked(exactly, search, verdict, one))
    keys = (
        "worst_margin_k", "worst_part", "sheet_margin_k", "flow_l_per_min", "drop_kpa", "loop_drop_kpa", "reynolds",
        "regime", "plate_mean_degc",
    )  # fmt: skip
    return facts | {key: exact[key] for key in keys}

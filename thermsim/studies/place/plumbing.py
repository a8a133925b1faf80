"""Hoses of plates laid somewhere: the loop's own made longer, or new ones of each of two plates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from thermsim import units
from thermsim.studies.place.hoses import Route
from thermsim.studies.place.laid import Laid, Raw, flat, metres
from thermsim.studies.place.layouts import Pair

LINK = "place link"  # the hose between two plates


@dataclass(frozen=True)
class Plumbing:
    """How hoses of a search are counted: bore (m) and loss of one bend; straight and bend at a plate, m."""

    bore: float
    bend_k: float
    reach: float


def hoses_about(path: Sequence[Any], plate: str) -> tuple[str | None, str | None]:
    """Names of the hoses next before and behind a plate in a loop's path."""
    items = flat(path)
    at = items.index(f"plate.{plate}")
    before = next((item for item in items[at::-1] if item.startswith("hose.")), None)
    behind = next((item for item in items[at:] if item.startswith("hose.")), None)
    return before and before.removeprefix("hose."), behind and behind.removeprefix("hose.")


def add_hoses(raw: Raw, laid: Sequence[Laid], arrangement: str, plumbing: Plumbing) -> None:
    """Lengthen the loop's hoses by what lies inside the box; two plates get hoses of their own."""
    if not all(len(one.hoses) == 2 for one in laid):
        return
    loop = next(loop for loop in raw["loop"].values() if f"plate.{laid[0].plate}" in flat(loop["path"]))
    if len(laid) == 2 and arrangement == "parallel":
        for one in laid:
            ways = [_new_hose(raw, f"{one.plate} {end}", route, plumbing)
                    for end, route in zip(("in", "out"), one.hoses, strict=True)]  # fmt: skip
            loop["path"] = _between(loop["path"], f"plate.{one.plate}", ways)
        return
    before, behind = hoses_about(loop["path"], laid[0].plate)
    _lengthen(raw, before, laid[0].hoses[0], plumbing)
    _lengthen(raw, behind, laid[-1].hoses[1], plumbing)
    if len(laid) == 2:
        link = _new_hose(raw, LINK, link_route(laid[0], laid[1], plumbing), plumbing)
        items = loop["path"]
        loop["path"] = _after(items, f"plate.{laid[0].plate}", link)


def link_route(first: Laid, second: Laid, plumbing: Plumbing) -> Route:
    """The hose from one plate's outlet to the other's inlet, along x and y, with two bends."""
    start, end = first.spot.to_plan(first.layout.outlet.at), second.spot.to_plan(second.layout.inlet.at)
    out, into = first.spot.direction(first.layout.outlet.out), second.spot.direction(second.layout.inlet.out)
    a, b = _ahead(start, out, plumbing.reach), _ahead(end, into, plumbing.reach)
    return Route(first.hoses[1].zone, 2 * plumbing.reach + abs(a[0] - b[0]) + abs(a[1] - b[1]), 2)


def _ahead(at: Pair, out: Pair, reach: float) -> Pair:
    return at[0] + out[0] * reach, at[1] + out[1] * reach


def _lengthen(raw: Raw, hose: str | None, route: Route, plumbing: Plumbing) -> None:
    if hose is None:
        return
    table = raw["hose"][hose]
    table["length"] = metres(units.quantity(table["length"], "length") + route.length)
    table["loss_coefficient"] = table.get("loss_coefficient", 0.0) + route.bends * plumbing.bend_k


def _new_hose(raw: Raw, name: str, route: Route, plumbing: Plumbing) -> str:
    """A hose with a barb at either end."""
    raw.setdefault("hose", {})[name] = {
        "length": metres(route.length), "bore": metres(plumbing.bore), "fittings": {"barb": 2},
        "loss_coefficient": route.bends * plumbing.bend_k,
    }  # fmt: skip
    return f"hose.{name}"


def _between(path: Sequence[Any], plate: str, hoses: Sequence[str]) -> list[Any]:
    """A plate that is a branch of its own with a hose on either side."""
    return [
        _between(item, plate, hoses)
        if isinstance(item, list)
        else [hoses[0], plate, hoses[1]]
        if item == plate
        else item
        for item in path
    ]


def _after(path: Sequence[Any], plate: str, hose: str) -> list[Any]:
    found: list[Any] = []
    for item in path:
        found.append(_after(item, plate, hose) if isinstance(item, list) else item)
        if item == plate:
            found.append(hose)
    return found

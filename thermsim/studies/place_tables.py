"""Cases of a search: the case's plain tables with plates laid elsewhere, joined anew, and the loop led through them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from thermsim.case.case import Case
from thermsim.studies.place_hoses import Route
from thermsim.studies.place_layouts import Layout, Pair
from thermsim.studies.place_rules import Contact, Verdict
from thermsim.studies.place_spot import Spot

Raw = dict[str, Any]
SECOND = "place second"  # the name of a copy of the plate
LINK = "place link"  # the hose between two plates
NOT_OF_THE_STATE = ("mishap", "must_have", "probe", "uncertain", "governor")  # what one steady state does without
PLATE_ENDED = ("joint", "heat_pipe", "radiation")  # tables with `between`


@dataclass(frozen=True)
class Laid:
    """A plate by name, where it lies, what it touches and by which grooves the coolant passes it."""

    plate: str
    spot: Spot
    layout: Layout
    contacts: tuple[Contact, ...] = ()
    hoses: tuple[Route, ...] = ()

    @classmethod
    def by(cls, plate: str, verdict: Verdict, layout: Layout) -> Laid:
        """As a verdict has it."""
        return cls(plate, verdict.spot, layout, verdict.contacts, verdict.hoses)


@dataclass(frozen=True)
class Plumbing:
    """How hoses of a search are counted: bore (m) and loss of one bend; straight and bend at a plate, m."""

    bore: float
    bend_k: float
    reach: float


def metres(*values: float) -> str:
    """Lengths as a case file has them."""
    return ", ".join(f"{value:.9g}" for value in values) + " m"


def laid_out(tables: Mapping[str, Any], laid: Sequence[Laid], arrangement: str, plumbing: Plumbing | None) -> Raw:
    """The tables with plates laid so; of two, the first named meets the coolant first where they are in series."""
    raw = deepcopy(dict(tables))
    first = raw["plate"][laid[0].plate]
    if len(laid) == 2 and laid[1].plate == SECOND:
        raw["plate"][SECOND] = deepcopy(first)
        _copy_mentions(raw, laid[0].plate)
    for one in laid:
        lay(raw["plate"][one.plate], one)
        _join(raw, one)
    names = [one.plate for one in laid]
    _lead_through(raw, names, arrangement)
    if plumbing is not None:
        _add_hoses(raw, laid, arrangement, plumbing)
    return raw


def case_of(raw: Raw) -> Case:
    """The case of plain tables made from `Case.resolved`."""
    return Case.from_resolved(raw)


def _copy_mentions(raw: Raw, plate: str) -> None:
    """Films, radiation and joints to sheets that the copy has as the original; joints to parts are made anew."""
    address, copy = f"plate.{plate}", f"plate.{SECOND}"
    for name, film in list(raw.get("film", {}).items()):
        if film["on"] == address:
            raw["film"][f"{name} second"] = {**deepcopy(film), "on": copy}
    for kind in ("radiation", "joint"):
        for name, table in list(raw.get(kind, {}).items()):
            if address in table["between"] and not any(end.startswith("part.") for end in table["between"]):
                between = [copy if end == address else end for end in table["between"]]
                raw[kind][f"{name} second"] = {**deepcopy(table), "between": between}


def lay(plate: Raw, one: Laid) -> None:
    """Move a plate's table to where it lies."""
    spot = one.spot
    plate["corner"], plate["size"] = metres(*spot.corner), metres(*spot.outline_size)
    paths = [[metres(*spot.to_plan(point)) for point in groove] for groove in one.layout.grooves]
    plate["channel"]["path"] = paths[0]
    plate["channel"]["beside"] = paths[1:]


def _join(raw: Raw, one: Laid) -> None:
    """Joints to the parts it touches, in place of those it had."""
    address = f"plate.{one.plate}"
    joints = raw.setdefault("joint", {})
    for name, joint in list(joints.items()):
        if address in joint["between"] and any(end.startswith("part.") for end in joint["between"]):
            del joints[name]
    for contact in one.contacts:
        between = [f"part.{contact.part}", address]
        joints[f"{contact.part} to {one.plate}"] = {
            "between": between,
            "resistivity": f"{contact.resistivity:.9g} m2K/W",
        }


def _lead_through(raw: Raw, names: list[str], arrangement: str) -> None:
    """Put the plates where the first stood in its loop; a second one that was elsewhere in it is taken out there."""
    first, others = f"plate.{names[0]}", [f"plate.{name}" for name in names[1:]]
    for loop in raw["loop"].values():
        path = _without(loop["path"], set(others))
        loop["path"] = _replaced(path, first, [first, *others], arrangement)


def _without(path: Sequence[Any], gone: set[str]) -> list[Any]:
    kept = [_without(item, gone) if isinstance(item, list) else item for item in path]
    return [item for item in kept if item != [] and item not in gone]


def _replaced(path: Sequence[Any], old: str, new: list[str], arrangement: str, in_series: bool = True) -> list[Any]:
    """A path with an element replaced; lists within lists are branches and series by turns."""
    found: list[Any] = []
    for item in path:
        if isinstance(item, list):
            found.append(_replaced(item, old, new, arrangement, not in_series))
        elif item != old or len(new) == 1:
            found.append(item)
        elif arrangement == "series":
            found += new if in_series else [list(new)]
        else:
            found += [list(new)] if in_series else new
    return found


def flat(path: Sequence[Any]) -> list[str]:
    """All addresses of a path in order."""
    return [one for item in path for one in (flat(item) if isinstance(item, list) else [item])]


def hoses_about(path: Sequence[Any], plate: str) -> tuple[str | None, str | None]:
    """Names of the hoses next before and behind a plate in a loop's path."""
    items = flat(path)
    at = items.index(f"plate.{plate}")
    before = next((item for item in items[at::-1] if item.startswith("hose.")), None)
    behind = next((item for item in items[at:] if item.startswith("hose.")), None)
    return before and before.removeprefix("hose."), behind and behind.removeprefix("hose.")


def _add_hoses(raw: Raw, laid: Sequence[Laid], arrangement: str, plumbing: Plumbing) -> None:
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
    from thermsim import units

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

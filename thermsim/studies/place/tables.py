"""Cases of a search: the case's plain tables with plates laid elsewhere, joined anew, and the loop led through them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from typing import Any

from thermsim.case.case import Case
from thermsim.studies.place.laid import Laid, Raw, metres
from thermsim.studies.place.plumbing import Plumbing, add_hoses

SECOND = "place second"  # the name of a copy of the plate
NOT_OF_THE_STATE = ("mishap", "must_have", "probe", "uncertain", "governor")  # what one steady state does without
ENDED = ("joint", "heat_pipe", "radiation")  # tables with `between`
ENDED_ON = ("film", "edge", "source", "probe")  # tables that are `on` something


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
        add_hoses(raw, laid, arrangement, plumbing)
    return raw


def case_of(raw: Raw) -> Case:
    """The case of plain tables made from `Case.resolved`."""
    return Case.from_resolved(raw)


def without(raw: Raw, gone: set[str]) -> None:
    """Take out tables by address, and whatever is led to them."""
    for address in gone:
        kind, name = address.split(".", 1)
        raw.get(kind, {}).pop(name, None)
    kept: dict[str, Callable[[Raw], bool]] = {kind: lambda table: not gone & set(table["between"]) for kind in ENDED}
    kept |= {kind: lambda table: table["on"] not in gone for kind in ENDED_ON}
    kept["duty"] = lambda table: table["of"].rsplit(".", 1)[0] not in gone
    for kind, keeps in kept.items():
        if kind in raw:
            raw[kind] = {name: table for name, table in raw[kind].items() if keeps(table)}


def without_plate(tables: Mapping[str, Any], plate: str) -> Raw:
    """The case without one of its plates, the loop led past it."""
    raw = deepcopy(dict(tables))
    without(raw, {f"plate.{plate}"})
    for loop in raw["loop"].values():
        loop["path"] = _without(loop["path"], {f"plate.{plate}"})
    return raw


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

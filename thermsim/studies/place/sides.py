"""A case with a plate cut in two: the box without plate and loop, and the loop with its plates but no box."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import deepcopy
from typing import Any

from thermsim import units
from thermsim.studies.place.laid import Raw, flat
from thermsim.studies.place.tables import without

LOOP_KINDS = ("case", "room", "run", "material", "plate", "hose", "pump", "radiator", "block", "reservoir")


def box_tables(tables: Mapping[str, Any], plates: Iterable[str], loop: str) -> Raw:
    """The case without these plates, their loop and whatever was led to them."""
    raw = deepcopy(dict(tables))
    circuit = raw["loop"].pop(loop)
    without(raw, {circuit["pump"], *flat(circuit["path"]), *(f"plate.{name}" for name in plates)})
    return raw


def loop_tables(
    tables: Mapping[str, Any],
    loop: str,
    cell: float,
    flow: float | None = None,
    watts: Mapping[str, float] | None = None,
) -> Raw:
    """Only the loop with its plates, its radiators' air and what leaves them to the room; `flow` (m³/s) pins it.

    `watts` go evenly into plates and blocks by address, to bring them to temperatures as in the box.
    """
    raw = {kind: deepcopy(tables[kind]) for kind in LOOP_KINDS if kind in tables}
    circuit = deepcopy(tables["loop"][loop])
    items = set(flat(circuit["path"]))
    for kind in ("plate", "hose", "radiator", "block", "reservoir"):
        raw[kind] = {name: table for name, table in raw.get(kind, {}).items() if f"{kind}.{name}" in items}
    pump = circuit["pump"].removeprefix("pump.")
    raw["pump"] = {pump: raw["pump"][pump]}
    if flow is not None:
        speed = units.quantity(raw["pump"][pump].get("speed", 1.0), "fraction")
        circuit["flow"] = f"{flow / (speed or 1.0):.12g} m3/s"  # pinned flows are those at rated speed
    raw["loop"] = {loop: circuit}
    ways = [radiator["airway"].removeprefix("airway.") for radiator in raw["radiator"].values()]
    raw["airway"] = {name: deepcopy(tables["airway"][name]) for name in dict.fromkeys(ways)}
    fans = [fan for way in raw["airway"].values() for fan in _names(way.get("fans", []))]
    raw["fan"] = {fan.removeprefix("fan."): deepcopy(tables["fan"][fan.removeprefix("fan.")]) for fan in fans}
    raw["film"] = {
        name: film for name, table in tables.get("film", {}).items()
        if table["on"] in items and (film := _to_the_room(table)) is not None
    }  # fmt: skip
    raw["run"] = {key: value for key, value in raw.get("run", {}).items() if key in ("cell", "merge")}
    raw["run"]["cell"] = f"{cell:.9g} m"
    raw["part"] = {}
    raw["joint"] = {}
    for n, (address, value) in enumerate((watts or {}).items()):
        if value == 0:
            continue
        if address.startswith("plate."):
            raw.setdefault("source", {})[f"in {n}"] = {"on": address, "watts": f"{value:.9g} W"}
        else:
            raw["part"][f"in {n}"] = {"watts": f"{value:.9g} W", "heat_capacity": "1 J/K"}
            raw["joint"][f"in {n}"] = {"between": [f"part.in {n}", address], "resistance": "0.001 K/W"}
    return raw


def _to_the_room(film: Raw) -> Raw | None:
    """A film as far as it leads to the room; one to the box's air may yet radiate to it."""
    if not film.get("to", "room").startswith("airway."):
        return deepcopy(film)
    if "emissivity" not in film:
        return None
    return {
        "on": film["on"],
        "face": film.get("face", "top"),
        "law": "fixed",
        "h": "0 W/m2K",
        "emissivity": film["emissivity"],
    }


def _names(value: Any) -> list[str]:
    return [value] if isinstance(value, str) else list(value)

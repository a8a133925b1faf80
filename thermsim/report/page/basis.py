"""What the answer rests on: every relation the shown cases use, with its range and source, and who uses it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from thermsim.case.schema import Spec
from thermsim.store.result import Result
from thermsim.studies.words import plain

Facts = dict[str, Any]


def basis(results: Mapping[str, Result]) -> list[Facts]:
    """Rows of what, as, says, range, source, where, and options (empty: all), in the order of the list of relations.

    A correlation that the list does not know is told by its name alone.
    """
    known = relations()
    used: dict[tuple[str, str, str], list[str]] = {}
    laws: dict[str, list[str]] = {}
    for option, result in results.items():
        for told in result.summary["correlations"]:
            used.setdefault((told["where"], told["name"], told["regime"]), []).append(option)
        for law in laws_of(result.case.spec):
            laws.setdefault(law, []).append(option)
    rows = []
    for (where, name, regime), options in used.items():
        found = known["used"].get(relation_name(name), {"says": name, "range": "not listed", "source": "not listed"})
        rows.append(
            found
            | {"what": plain(where), "as": f"{name}; {regime}" if regime else name, "options": _some(options, results)}
        )
    for law, found in known["law"].items():
        if law in laws:
            rows.append(found | {"what": found["title"], "as": "", "options": _some(laws[law], results)})
    return rows


def relations() -> dict[str, dict[str, dict[str, str]]]:
    """The list of relations."""
    return tomllib.loads(files("thermsim.report.page").joinpath("basis.toml").read_text("utf-8"))


def relation_name(name: str) -> str:
    """The relation of a correlation that names its passage too: "fin gap, Gnielinski" is Gnielinski."""
    for passage in ("fin gap, ", "rectangular passage, "):
        name = name.removeprefix(passage)
    return name


def laws_of(spec: Spec) -> list[str]:
    """Which relations of the list's second part a case rests on."""
    films = {film.law for film in spec.film.values()}
    emitting = any(film.emissivity for film in spec.film.values())
    coolants = {loop.coolant for loop in spec.loop.values()}
    heard = [*spec.fan.values(), *spec.pump.values()]
    present = {
        "conduction": bool(spec.sheet or spec.plate),
        "joint": bool(spec.joint),
        "scaled": "scaled" in films,
        "fixed": "fixed" in films,
        "natural": "natural" in films,
        "radiation": bool(spec.radiation) or emitting,
        "sink": any(sink.resistance is not None for sink in spec.sink.values()),
        "fins": any(sink.fins is not None for sink in spec.sink.values()),
        "fan": bool(spec.fan),
        "noise": any(device.noise is not None for device in heard),
        "air": bool(spec.airway),
        "friction": bool(spec.hose or spec.plate),
        "losses": any(hose.fittings for hose in spec.hose.values()),
        "pump": bool(spec.loop),
        "glycol": any("glycol" in coolant for coolant in coolants),
        "water": "water" in coolants,
        "radiator": bool(spec.radiator),
        "block": bool(spec.block),
        "heat_pipe": bool(spec.heat_pipe),
        "dew": spec.room.humidity is not None,
    }
    return [law for law, there in present.items() if there]


def _some(options: list[str], results: Mapping[str, Result]) -> list[str]:
    return [] if len(options) == len(results) else options

"""Cases of a mishap: the box with its duties held still, the same struck at time zero, and with all watts scaled."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from thermsim.case.case import APPLIED, Case
from thermsim.case.references import tables as named_tables
from thermsim.case.solid import Part
from thermsim.model.program import value_of, watts_in
from thermsim.studies.mishap.troubles import Trouble

Raw = dict[str, Any]
HORIZON_S = 8 * 3600.0  # how long a mishap is followed
STRUCK = "what happens"  # the mishap's name in the cases made here
UNITS = {"watts": "W", "flux": "W/m2", "density": "W/m3"}


def calm_case(case: Case, at: float | None) -> Case:
    """The case without the mishap; duties held as at a time (s; default: the end of the run), its own mishaps under
    way from the start and for good.
    """
    tables = deepcopy(case.resolved())
    moment = at or case.spec.run.duration
    for duty in case.spec.duty.values():
        value = value_of(duty, moment)
        if duty.of == "state":
            tables.setdefault("run", {})["state"] = value
            continue
        kind, rest = duty.of.split(".", 1)
        name, _, key = rest.rpartition(".")
        table = tables[kind][name] if name else tables[kind]
        table[key] = f"{value:.9g} {'W' if key == 'watts' else 'degC'}"
    tables.pop("duty", None)
    for mishap in tables["mishap"].values():
        mishap["at"] = "0 s"
        mishap.pop("ends", None)
    tables.setdefault("run", {}).update(duration=f"{HORIZON_S:g} s", until="time")
    return Case.from_resolved(tables)


def struck_case(calm: Case, trouble: Trouble, speeds: Mapping[str, float]) -> Case:
    """The calm case struck at time zero, its governors where they had settled; `speeds`: relative, by address."""
    tables = deepcopy(calm.resolved())
    tables["mishap"][STRUCK] = {"at": "0 s", **trouble.table}
    tables[APPLIED]["mishaps"] = [*calm.mishaps, STRUCK]
    for name, governor in calm.spec.governor.items():
        speed = speeds[governor.drives[0]]
        tables["governor"][name]["start"] = f"{100 * speed:.9g} %"
    return Case.from_resolved(tables)


def scaled(case: Case, factor: float) -> Case:
    """The case with the watts of all parts and sources times a factor."""
    tables = deepcopy(case.resolved())
    for name, part in case.spec.part.items():
        tables["part"][name]["watts"] = _watts(part, factor)
    for name, source in case.spec.source.items():
        for key, unit in UNITS.items():
            value = getattr(source, key)
            if value is not None:
                tables["source"][name][key] = f"{value * factor:.12g} {unit}"
    return Case.from_resolved(tables)


def total_watts(case: Case) -> float:
    """Watts of all parts in the run's state."""
    return sum(watts_in(part, case.spec.run.state) for part in named_tables(case.spec, "part").values())


def _watts(part: Part, factor: float) -> str | dict[str, str]:
    if isinstance(part.watts, dict):
        return {state: f"{watts * factor:.12g} W" for state, watts in part.watts.items()}
    return f"{part.watts * factor:.12g} W"

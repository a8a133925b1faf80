"""What to log: channels with the headers a log may have, what the model says of them, a block for the case file."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from thermsim.bench.logs.headers import take_apart
from thermsim.bench.protocol.stands import Stand, read_at_rest
from thermsim.case.case import Case
from thermsim.case.channels import is_temperature, split_channel
from thermsim.case.schema import Spec
from thermsim.model.hydraulics import elements, read_path
from thermsim.studies.decide.roles import BASE
from thermsim.studies.words import plain

Facts = dict[str, Any]
ROOM_PROBES = 3
UNITS = {"flow": "L/min", "volts": "V", "amps": "A", "humidity": "%", "noise": "dB(A)"}


@dataclass(frozen=True)
class Column:
    """A column to log: its channel, its header with a unit, and whether the case has that header already."""

    channel: str
    header: str
    unit: str  # "" for words
    known: bool


def columns_of(case: Case, stands: Sequence[Stand]) -> list[Column]:
    """Every column worth logging, parts with the least margin first."""
    parts = [f"part.{name}" for name in _by_margin(stands)]
    wanted = dict.fromkeys([*parts, *(channel for stand in stands for channel in _streams(stand.case.spec))])
    found = [_column(case, channel, "") for channel in wanted]
    rooms = [_column(case, "room", f" {number + 1}", number) for number in range(ROOM_PROBES)]
    always = ("supply.volts", "supply.amps", "humidity", "noise", "noise.background", "state", "event")
    return [*found[: len(parts)], *rooms, *found[len(parts) :], *(_column(case, channel, "") for channel in always)]


def _by_margin(stands: Sequence[Stand]) -> list[str]:
    margins: dict[str, float] = {}
    for stand in stands:
        for name in stand.case.spec.part:
            margins[name] = min(margins.get(name, float("inf")), stand.settled.margins.get(name, float("inf")))
    return sorted(margins, key=lambda name: margins[name])


def _streams(spec: Spec) -> list[str]:
    """Air, coolant, and those fans and pumps whose speed may move or can be counted."""
    found = []
    for name, way in spec.airway.items():
        if not str(way.inlet).startswith("airway."):
            found.append(f"airway.{name}.inlet")
        if not way.returns:
            found.append(f"airway.{name}.outlet")
    for name, loop in spec.loop.items():
        cooled = [address for address in elements(read_path(loop.path)) if address.split(".")[0] in ("plate", "block")]
        found += [f"{address}.{end}" for address in cooled for end in ("inlet", "outlet")]
        found.append(f"loop.{name}.flow")
    governed = {device for governor in spec.governor.values() for device in governor.drives}
    movers = {f"{kind}.{name}": mover for kind in ("fan", "pump") for name, mover in getattr(spec, kind).items()}
    told = [channel for channel, mover in movers.items() if mover.rated_speed is not None or channel in governed]
    return [*found, *told]


def _column(case: Case, channel: str, number: str, which: int = 0) -> Column:
    """With the header the case has for it, or one made of its address."""
    known = [header for header, of in case.spec.bench.columns.items() if of == channel]
    unit = _unit(case, channel)
    if which < len(known):
        header = known[which]
        apart = take_apart(header)
        stated = (apart.unit and not apart.loose) or not unit or header in case.spec.bench.units
        return Column(channel, header if stated else f"{header} [{unit}]", unit, True)
    name = plain(channel.replace(".", " ")) + number
    return Column(channel, f"{name} [{unit}]" if unit else name, unit, False)


def _unit(case: Case, channel: str) -> str:
    kind, name, quantity = split_channel(channel)
    if is_temperature(channel):
        return "°C"
    if kind in ("fan", "pump"):
        return "rpm" if _rated(case, kind, name) else "%"
    return UNITS.get(quantity or kind, "dB(A)" if kind == "noise" else "")


def _rated(case: Case, kind: str, name: str) -> float | None:
    """Rated speed, rev/s, in the case or in an option that adds it."""
    for one in (case, *(case.with_option(option) for option in _logged_options(case))):
        if name in getattr(one.spec, kind):
            rated: float | None = getattr(one.spec, kind)[name].rated_speed
            return rated
    return None


def _logged_options(case: Case) -> list[str]:
    return [run.option for run in case.spec.bench.run.values() if run.option is not None]


def expected(columns: Sequence[Column], stands: Sequence[Stand]) -> list[Facts]:
    """A row for each column: what it should read where each stand settles, limits, and the change of its rise."""
    readings = {stand.name: read_at_rest(stand, {column.channel for column in columns}) for stand in stands}
    rows = []
    for column in columns:
        kind, name, quantity = split_channel(column.channel)
        limits = [
            stand.case.spec.part[name].limit for stand in stands if kind == "part" and name in stand.case.spec.part
        ]
        values = {stand.name: _shown(column, readings[stand.name].get(column.channel), stand) for stand in stands}
        row = {
            "channel": column.channel, "header": column.header, "unit": column.unit, "values": values,
            "limit_degc": limits[-1] if limits else None, "change_k": None,
        }  # fmt: skip
        given = kind == "room" or (kind, quantity) == ("airway", "inlet")
        rises = [
            degc - stand.case.spec.room.temperature for stand in stands if (degc := values[stand.name]) is not None
        ]
        if is_temperature(column.channel) and not given and len(rises) == 2:
            row["change_k"] = rises[1] - rises[0]
        rows.append(row)
    return rows


def _shown(column: Column, value: float | None, stand: Stand) -> float | None:
    """An SI value in the unit of its column."""
    if value is None or not column.unit:
        return None
    kind, name, _ = split_channel(column.channel)
    if column.unit == "rpm":
        return value * 60.0 * (_rated(stand.case, kind, name) or 0.0)
    return value * {"%": 100.0, "L/min": 6e4}.get(column.unit, 1.0)


def block(case: Case, columns: Sequence[Column], order: Sequence[str], stands: Sequence[Stand]) -> str:
    """What to put into the case file so that `thermsim bench` reads such logs; nothing where it is all there."""
    lines = [
        f'{json.dumps(_bare(column), ensure_ascii=False)} = "{column.channel}"'
        for column in columns
        if not column.known
    ]
    found = ["[bench.columns]", *lines] if lines else []
    if not case.spec.bench.run and len(stands) > 1:
        for stand, label in zip(stands, ("before", "after"), strict=True):
            for number in range(1, order.count(stand.name) + 1):
                found += [
                    "",
                    f'[bench.run."{label} {number}"]',
                    f'file = "bench/{label}-{number}.csv"',
                    f'stands = "{label}"',
                ]
                found += [] if stand.name == BASE else [f"option = {json.dumps(stand.name, ensure_ascii=False)}"]
    return "\n".join(found).strip()


def _bare(column: Column) -> str:
    return take_apart(column.header).name

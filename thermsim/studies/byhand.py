"""Hand estimates beside the model's values: sums a practitioner would do on paper, from the case file alone.

They use none of the model's links. A gap over 20 % is flagged and has its usual reason beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.case.materials import material
from thermsim.case.schema import Spec
from thermsim.case.solid import Joint, Sheet
from thermsim.model.build import build
from thermsim.model.hydraulics import elements, read_path
from thermsim.model.program import watts_in
from thermsim.model.system import Model
from thermsim.physics.coolants import coolant
from thermsim.solve.modes import slowest_time_constant
from thermsim.solve.noise import unstated
from thermsim.solve.steady import Steady, solve_steady

FLAG = 0.2
BARE_LAMINATE = 1.1  # W/mK in the plane; 1.06 measured (Graebner & Azar 1997, from memory)
AIR_DENSITY, AIR_CP = 1.19, 1006.0  # at 22 °C and sea level, as one would look them up


@dataclass(frozen=True)
class Estimate:
    """A quantity by hand and by the model, the sum done, and why the two may differ."""

    what: str
    by_hand: float
    by_model: float
    unit: str
    sum: str
    reason: str

    @property
    def gap(self) -> float:
        """Relative difference from the model."""
        return self.by_hand / self.by_model - 1 if self.by_model else float("inf")

    @property
    def flagged(self) -> bool:
        """Whether the two differ by more than 20 %."""
        return abs(self.gap) > FLAG


def watts_ledger(case: Case) -> dict[str, dict[str, float]]:
    """Watts of every part in each operating state, with their sum under `total`, by state."""
    spec = case.spec
    states = {state for part in spec.part.values() if isinstance(part.watts, dict) for state in part.watts}
    names = sorted(states) or [spec.run.state]
    ledger = {}
    for state in names:
        ledger[state] = {name: watts_in(part, state) for name, part in spec.part.items()}
        ledger[state]["total"] = sum(ledger[state].values())
    return ledger


def examine(case: Case) -> dict[str, Any]:
    """Steady state of a case with hand estimates beside it, and the size of its model; plain data."""
    model = build(case)
    steady = solve_steady(model, 0.0)
    estimates = list(by_hand(model, steady))
    return {
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": case.option,
        "options": list(case.options),
        "watts": watts_ledger(case),
        "state": case.spec.run.state,
        "unknowns": model.node_count,
        "grid": [model.site.grid.x.size - 1, model.site.grid.y.size - 1],
        "grid_notes": list(model.site.grid.shifts),
        "parts": {n: float(steady.temperature[model.numbers(f"part.{n}")[0]]) for n in case.spec.part},
        "limits": {n: part.limit for n, part in case.spec.part.items()},
        "estimates": [{**asdict(e), "gap": e.gap, "flagged": e.flagged} for e in estimates],
        "assumed": assumed(case.spec),
        "warnings": [str(problem) for problem in case.warnings],
    }


def by_hand(model: Model, steady: Steady) -> Iterator[Estimate]:
    """All estimates that the case gives the numbers for."""
    yield from _air(model, steady)
    yield from _coolant(model, steady)
    yield from _joints(model, steady)
    yield from _sinks(model, steady)
    yield from _skin(model, steady)
    yield from _time_constants(model, steady)


def _total(model: Model) -> float:
    return sum(model.program.part_watts(name, 0.0) for name in model.case.spec.part)


def _air(model: Model, steady: Steady) -> Iterator[Estimate]:
    spec, full = model.case.spec, steady.conditions.temperature
    cooled = {radiator.airway for radiator in spec.radiator.values()}
    on_coolant = {part for loop in spec.loop.values() for part in joined_parts(spec, elements(read_path(loop.path)))}
    watts = sum(model.program.part_watts(name, 0.0) for name in spec.part if f"part.{name}" not in on_coolant)
    for name, air in steady.conditions.air.items():
        if air.flow <= 0 or name in cooled:
            continue
        chain = model.site.chains[name]
        yield Estimate(
            f"air rise in {name}", watts / (AIR_DENSITY * AIR_CP * air.flow), float(full[chain[-1]] - full[chain[0]]),
            "K", f"{watts:.1f} W / (1.19 kg/m³ · 1006 J/kgK · {3600 * air.flow:.1f} m³/h)",
            "by hand the air takes all heat that no coolant takes; the skin takes some",
        )  # fmt: skip


def joined_parts(spec: Spec, path: list[str]) -> set[str]:
    """Parts joined to a plate or block of a coolant path."""
    return {
        end
        for joint in spec.joint.values()
        if any(end in path for end in joint.between)
        for end in joint.between
        if end.startswith("part.")
    }


def _coolant(model: Model, steady: Steady) -> Iterator[Estimate]:
    spec = model.case.spec
    for name, loop in spec.loop.items():
        point = steady.conditions.loops[name]
        flow = point.flows["pump"]
        if flow <= 0:
            continue
        liquid = coolant(loop.coolant, loop.fraction, loop.fraction_by).at(spec.room.temperature)
        path = elements(read_path(loop.path))
        joined = joined_parts(spec, path)
        watts = sum(model.program.part_watts(part.removeprefix("part."), 0.0) for part in joined)
        nodes = model.coolant_nodes[name]
        rise = float(np.ptp(steady.temperature[nodes]))
        yield Estimate(
            f"coolant rise in {name}", watts / (liquid.density * liquid.cp * flow), rise, "K",
            f"{watts:.1f} W / ({liquid.density:.0f} kg/m³ · {liquid.cp:.0f} J/kgK · {6e4 * flow:.2f} L/min)",
            "by hand all watts of the joined parts enter; boards leak some in or out, the pump adds its own",
        )  # fmt: skip


def _joints(model: Model, steady: Steady) -> Iterator[Estimate]:
    spec, full = model.case.spec, steady.conditions.temperature
    for name, joint in spec.joint.items():
        part = next((end for end in joint.between if end.startswith("part.")), None)
        if part is None:
            continue
        other = joint.between[1] if joint.between[0] == part else joint.between[0]
        if any(film.on == part for film in spec.film.values()):
            continue  # its heat has a way round the joint that paper does not know
        resistance = _resistance(spec, joint, part)
        watts = model.program.part_watts(part.removeprefix("part."), 0.0)
        if resistance is None or watts <= 0:
            continue
        first, second = (_mean(model, full, end, part) for end in (part, other))
        yield Estimate(
            f"drop over joint {name}", watts * resistance, first - second, "K",
            f"{watts:.2f} W · {resistance:.3f} K/W",
            "by hand all the part's heat passes; some leaves by the board",
        )  # fmt: skip


def _resistance(spec: Spec, joint: Joint, part: str) -> float | None:
    """K/W of a joint on a part's footprint."""
    if joint.resistance is not None:
        return joint.resistance
    size = spec.part[part.removeprefix("part.")].size
    area = joint.area or (size[0] * size[1] if size else None)
    if area is None:
        return None
    if joint.resistivity is not None:
        return joint.resistivity / area
    if joint.conductance is not None:
        return 1 / (joint.conductance * area)
    assert joint.bond_line is not None
    assert joint.conductivity is not None
    return (joint.bond_line / joint.conductivity + (joint.contact or 0.0)) / area


def _mean(model: Model, full: Any, address: str, part: str) -> float:
    """Mean temperature of an end; of a sheet, under the part."""
    footprint = model.site.footprint(part) or (None, None)
    ends = model.site.ends(address, *footprint)
    return float(full[ends.node] @ ends.share)


def _sinks(model: Model, steady: Steady) -> Iterator[Estimate]:
    spec, full = model.case.spec, steady.conditions.temperature
    for name, sink in spec.sink.items():
        airway = sink.airway
        air = steady.conditions.air[airway]
        if sink.resistance is None or air.flow <= 0:
            continue
        scale = (air.flow / sink.at_flow) ** -(sink.exponent or 0.0) if sink.at_flow else 1.0
        path = sink.resistance * scale
        watts = model.program.part_watts(sink.on.removeprefix("part."), 0.0)
        inlet = float(full[model.site.chains[airway][0]])
        node = float(full[model.numbers(f"sink.{name}")[0]])
        yield Estimate(
            f"sink {name} over its inlet air", watts * path, node - inlet, "K",
            f"{watts:.1f} W · {path:.2f} K/W at {3600 * air.flow:.1f} m³/h",
            "by hand all the part's heat passes the sink; some leaves by the board, and the air has warmed",
        )  # fmt: skip


def _skin(model: Model, steady: Steady) -> Iterator[Estimate]:
    """Mean rise of the skin of a sealed box, which has to lose everything."""
    spec = model.case.spec
    if any(air.flow > 0 for air in steady.conditions.air.values()) or spec.loop:
        return
    outside = {key: film for key, film in spec.film.items() if film.to == "room" and film.law == "fixed" and film.h}
    skin = 0.0
    rises, areas = [], []
    room = spec.room.temperature
    for film in outside.values():
        ends = model.site.ends(film.on, film.corner, film.size)
        area = float(ends.area.sum())
        skin += (film.h or 0.0) * area
        rises.append(float(steady.temperature[ends.node] @ ends.share) - room)
        areas.append(area)
    if skin > 0:
        watts = _total(model)
        yield Estimate(
            "skin over the room", watts / skin, float(np.average(rises, weights=areas)), "K",
            f"{watts:.1f} W / {skin:.2f} W/K",
            "by hand the skin is at one temperature",
        )  # fmt: skip


def _time_constants(model: Model, steady: Steady) -> Iterator[Estimate]:
    """Slowest mode against all heat capacity over all conductance to the room."""
    capacity = float(model.capacity.sum())
    watts = steady.inputs.supplied
    if watts <= 0:
        return
    mean = float(model.capacity @ steady.temperature / capacity) - float(np.min(steady.inputs.places))
    yield Estimate(
        "slowest time constant", capacity * mean / watts / 60, slowest_time_constant(model, steady) / 60, "min",
        f"{capacity:.0f} J/K · {mean:.1f} K mean rise / {watts:.1f} W",
        "by hand one lump; distant parts of the box are slower, and near ones faster",
    )  # fmt: skip


def _is_bare_board(spec: Spec, on: str, sheet: Sheet) -> bool:
    """Whether parts heat a sheet that spreads no better than a board's laminate without its copper."""
    heated = any(part.on == on for part in spec.part.values())
    return heated and sheet.layers is None and _in_plane(spec, sheet) <= BARE_LAMINATE


def _in_plane(spec: Spec, sheet: Sheet) -> float:
    return sheet.conductivity or material(sheet.material or "", spec.material).conductivity


def _bare_board(spec: Spec, on: str, sheet: Sheet) -> str:
    return (
        f"{on}: {_in_plane(spec, sheet):g} W/mK, a board without copper; a real one spreads heat far better: "
        "give its layers, or a conductivity (10 to 40 W/mK with 4 to 10 layers, common practice)"
    )


def assumed(spec: Spec) -> list[str]:
    """Defaults that matter, as sentences."""
    found = []
    if spec.room.pressure is None and spec.room.altitude is None:
        found.append("sea level: room pressure 101.3 kPa")
    if spec.room.humidity is None:
        found.append("no room humidity stated: condensation cannot be judged")
    if spec.room.noise_floor is None:
        found.append("no noise floor stated: levels are those of fans and pumps alone")
    silent = unstated(spec)
    if silent:
        found.append(f"no noise stated, so not counted: {', '.join(silent)}")
    sheets = {f"{kind}.{n}": sheet for kind in ("sheet", "plate") for n, sheet in getattr(spec, kind).items()}
    washed = {(film.on, film.face) for film in spec.film.values()}
    dry = [f"{face} of {on}" for on in sheets for face in ("top", "bottom") if (on, face) not in washed]
    if dry:
        found.append(f"no film, so no heat to any air: {', '.join(dry)}")
    if len(sheets) > 1 and not spec.radiation:
        found.append("no radiation inside: no [radiation] joins two sheets")
    found += [_bare_board(spec, on, sheet) for on, sheet in sheets.items() if _is_bare_board(spec, on, sheet)]
    for name, plate in spec.plate.items():
        channel = plate.channel
        found.append(
            f"plate {name}: {channel.heated_walls} channel walls heated, {channel.entry} flow, "
            f"{channel.bend_loss:g} velocity heads a corner, {channel.loss_coefficient:g} for entry and exit"
        )
    return found

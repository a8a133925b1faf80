"""Can it work: falling curves, coolant that neither freezes nor boils, whole loops and airways."""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

from thermsim import units
from thermsim.case.duties import duty_values
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.flow import Drop, Loop
from thermsim.case.references import LOOP_ELEMENTS, find, loop_elements, tables
from thermsim.case.schema import Spec


def check_physics(spec: Spec) -> Iterator[Finding]:
    """All checks of this module."""
    if spec.room.pressure is not None and spec.room.altitude is not None:
        yield ("room", "altitude"), "give either pressure or altitude"
    yield from _moist_air(spec)
    for kind in ("fan", "pump"):
        for name, mover in tables(spec, kind).items():
            yield from _curve(kind, mover.curve, (kind, name, "curve"))
    yield from _fittings(spec)
    yield from _airways(spec)
    yield from _used_once(spec)
    for name, loop in spec.loop.items():
        at: KeyPath = ("loop", name)
        if not loop.path:
            yield (*at, "path"), "is empty"
        yield from _branches(loop.path, (*at, "path"), nested=False)
        yield from _missing_drops(spec, loop)
        yield from _coolant(spec, loop, at)


def _moist_air(spec: Spec) -> Iterator[Finding]:
    if spec.room.humidity is None:
        return
    from thermsim.physics.moist_air import HIGHEST_DEGC, LOWEST_DEGC

    temperatures = [spec.room.temperature, *duty_values(spec, "room.temperature")]
    if not all(LOWEST_DEGC <= one <= HIGHEST_DEGC for one in temperatures):
        known = f"{LOWEST_DEGC:.0f} to {HIGHEST_DEGC:.0f} °C"
        yield ("room", "humidity"), f"moist air is known from {known}; leave it out, or change the room's temperature"


def _curve(kind: str, curve: Sequence[tuple[float, float]], at: KeyPath) -> Iterator[Finding]:
    if len(curve) < 2:
        yield at, f"a {kind} curve needs at least two points"
    for (flow, pressure), (next_flow, next_pressure) in pairwise(curve):
        flows = [_flow(kind, value) for value in (flow, next_flow)]
        if flow < 0 or next_flow <= flow:
            yield at, f"{kind} curve: flows must rise from point to point; {flows[1]} comes after {flows[0]}"
            return
        if next_pressure >= pressure:
            drops = [units.format_quantity(value, "pressure") for value in (pressure, next_pressure)]
            yield at, f"{kind} curve does not fall: {drops[0]} at {flows[0]}, then {drops[1]} at {flows[1]}"
            return


def _flow(kind: str, flow: float) -> str:
    return f"{3600 * flow:.4g} m³/h" if kind == "fan" else f"{60e3 * flow:.4g} L/min"


def _fittings(spec: Spec) -> Iterator[Finding]:
    for name, hose in spec.hose.items():
        if not hose.fittings:
            continue
        from thermsim.physics.losses import FITTING_K

        for fitting, count in hose.fittings.items():
            at: KeyPath = ("hose", name, "fittings", fitting)
            if fitting not in FITTING_K:
                hint = nearest(fitting, FITTING_K) or f"; known are {', '.join(FITTING_K)}"
                yield at, f'unknown fitting "{fitting}"{hint}'
            if count < 0:
                yield at, f"must be at least 0; got {count}"


def _airways(spec: Spec) -> Iterator[Finding]:
    """Airways that feed each other must not go in a circle."""
    for name in spec.airway:
        seen = [name]
        inlet = spec.airway[name].inlet
        while isinstance(inlet, str) and inlet != "room":
            upstream = inlet.removeprefix("airway.")
            if upstream == name:
                circle = " ← ".join([*seen, name])
                yield ("airway", name, "inlet"), f"airways feed each other in a circle: {circle}"
            if upstream in seen or upstream not in spec.airway:
                break
            seen.append(upstream)
            inlet = spec.airway[upstream].inlet


def _used_once(spec: Spec) -> Iterator[Finding]:
    """A fan is in one airway, a pump in one loop, an element once in one loop."""
    uses: list[Finding] = [
        (("airway", name, "fans", number), address)
        for name, airway in spec.airway.items()
        for number, address in enumerate(airway.fans)
    ]
    uses += [(("loop", name, "pump"), loop.pump) for name, loop in spec.loop.items()]
    uses += [
        (("loop", name, "path", *where), address)
        for name, loop in spec.loop.items()
        for where, address in loop_elements(loop.path)
    ]
    seen: Counter[str] = Counter()
    for path, address in uses:
        seen[address] += 1
        if seen[address] == 2:
            yield path, f"{address} is used twice; each {address.partition('.')[0]} stands for itself only"


def _branches(path: Sequence[Any], at: KeyPath, *, nested: bool) -> Iterator[Finding]:
    """A list within a path is branches side by side, each an address or a list."""
    for number, item in enumerate(path):
        here = (*at, number)
        if isinstance(item, str):
            continue
        if not isinstance(item, list | tuple):
            yield here, "is neither an element nor a list of branches"
        elif not nested and len(item) < 2:
            yield here, "branches side by side are at least two"
        elif nested and not item:
            yield here, "is an empty branch"
        else:
            yield from _branches(item, here, nested=not nested)


def _missing_drops(spec: Spec, loop: Loop) -> Iterator[Finding]:
    """Where the loop's flow is worked out, every measured element's drop must be known."""
    for _, address in loop_elements(loop.path) if loop.flow is None else ():
        kind, _, name = address.partition(".")
        element = find(spec, address)
        if isinstance(element, Drop) and element.drop is None:
            yield (kind, name, "drop"), 'missing; its pressure drop at a flow, for example drop = "2 kPa"'


def _coolant(spec: Spec, loop: Loop, at: KeyPath) -> Iterator[Finding]:
    from thermsim.physics.coolants import coolant

    if loop.coolant != "water" and "fraction" not in loop.model_fields_set:
        yield (*at, "fraction"), 'missing; how much glycol, for example fraction = "30 %"'
        return
    try:
        liquid = coolant(loop.coolant, loop.fraction, loop.fraction_by)
    except ValueError as error:
        yield (*at, "fraction"), str(error)
        return
    boiling = liquid.boiling_degc(spec.room.air_pressure())
    for place, degc in _temperatures(spec, loop):
        found = units.format_quantity(degc, "temperature")
        if degc <= liquid.freezing_degc:
            point = units.format_quantity(liquid.freezing_degc, "temperature")
            yield (*at, "coolant"), f"{liquid} freezes at {point}, and {place} is at {found}"
        if degc >= boiling:
            point = units.format_quantity(boiling, "temperature")
            yield (*at, "coolant"), f"{liquid} boils at {point}, and {place} is at {found}"


def _temperatures(spec: Spec, loop: Loop) -> Iterator[tuple[str, float]]:
    """Temperatures that the coolant takes without any heat: room, start, the air of its radiators."""
    yield "the room", spec.room.temperature
    if spec.run.start is not None:
        yield "the start", spec.run.start
    values = duty_values(spec, "room.temperature")
    if values:
        yield "the room at its coldest", min(values)
        yield "the room at its warmest", max(values)
    for _, address in loop_elements(loop.path):
        kind, _, name = address.partition(".")
        radiator = spec.radiator.get(name) if kind == "radiator" else None
        airway = spec.airway.get(radiator.airway) if radiator else None
        if radiator and airway and isinstance(airway.inlet, float):
            yield f"the inlet of airway.{radiator.airway}", airway.inlet


def warn_physics(spec: Spec) -> Iterator[Finding]:
    """What is odd but may be meant: loops that lose no heat, elements of no loop, fans of no airway, faces twice."""
    faces: dict[tuple[str, str], str] = {}
    for name, film in spec.film.items():
        if film.corner is None and film.on.startswith(("sheet.", "plate.", "wall.")):
            other = faces.setdefault((film.on, film.face), name)
            if other != name:
                yield ("film", name, "on"), f"the {film.face} of {film.on} has film.{other} too; both count"
    used = {address for loop in spec.loop.values() for _, address in loop_elements(loop.path)}
    used |= {loop.pump for loop in spec.loop.values()}
    used |= {address for airway in spec.airway.values() for address in airway.fans}
    for kind in ("fan", "pump", *LOOP_ELEMENTS):
        for name in tables(spec, kind):
            if f"{kind}.{name}" not in used:
                where = "airway" if kind == "fan" else "loop"
                yield (kind, name), f"is in no {where}"
    for name, loop in spec.loop.items():
        elements = [find(spec, address) for _, address in loop_elements(loop.path)]
        if not any(getattr(element, "loss", 0) or hasattr(element, "arrangement") for element in elements):
            yield ("loop", name, "path"), "has no radiator; only its plates and blocks can lose its heat"

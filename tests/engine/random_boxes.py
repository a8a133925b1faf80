"""Random boxes for testing engines: any seed gives a sound case, small enough to run whole in about a second."""

from collections.abc import Iterator
from itertools import chain
from math import sqrt
from typing import Any

from random_flows import (
    add_airways,
    add_free_part,
    add_heat_pipes,
    add_loop,
    add_plate,
    add_plate_joints,
    add_sinks,
)
from random_plan import Area, Draw, Layer, Plan
from random_running import add_duties, add_governors, add_mishaps, add_source, add_watts
from random_solids import METALS, add_edges, add_facing, add_films, add_pads, add_parts, add_sheet

from thermsim.case import Case
from thermsim.case.materials import material
from thermsim.case.references import loop_elements
from thermsim.case.schema import Spec

UNKNOWNS = (300, 4000)
CONTRAST = 50  # ratio of the conductivities of a patch and its sheet, past which it is a feature


def random_case(seed: int, share: float = 1.0) -> Case:
    """A random but sound enclosure, mostly of about 1000 unknowns (or a share of that), for 5 to 60 minutes.

    Its mishaps happen.
    """
    draw = Draw(seed)
    sheets, boxed, liquid = draw.whole(1, 3), draw.chance(0.35), draw.chance(0.45)
    plan = _plan(draw, (min(sheets, 2 if boxed else 3) + 2 * boxed + liquid) / share)
    if boxed:
        _add_box(plan)
    add_airways(plan)
    for name in ("board", "second", "third")[: min(sheets, 2 if boxed else 3)]:
        _lay(plan, name)
    if liquid:
        add_plate(plan, _inner(plan, 0.6))
    add_films(plan)
    add_facing(plan)
    add_edges(plan)
    add_parts(plan)
    add_free_part(plan)
    add_pads(plan)
    if liquid:
        add_plate_joints(plan)
        add_loop(plan)
    add_sinks(plan)
    add_heat_pipes(plan)
    add_watts(plan)
    add_source(plan)
    add_governors(plan)
    add_duties(plan)
    happening = add_mishaps(plan)
    return Case.from_dict(_written(plan, seed)).with_mishaps(happening)


def _plan(draw: Draw, sheets: float) -> Plan:
    """How large the box is and how many cells that makes: about 1000 in all its sheets together."""
    cells = (draw.log(550, 1900) if draw.chance(0.9) else draw.log(1900, 3700)) / sheets
    columns = max(10, round(sqrt(cells * draw.between(1.0, 1.8))))
    rows = max(8, round(cells / columns))
    unit = round(max(draw.between(100, 320) / columns, 45 / rows), 2)
    return Plan(draw, unit, Area(0, 0, columns, rows), round(draw.between(15, 35), 1), 60 * draw.log(5, 60))


def _add_box(plan: Plan) -> None:
    """A case about it all: lid, floor and four walls."""
    draw, whole = plan.draw, plan.whole
    size = f"{whole.width * plan.unit:.6g} x {whole.depth * plan.unit:.6g} x {draw.between(30, 120):.4g} mm"
    natural = {"law": "natural", "emissivity": draw.between(0.1, 0.95)}
    outside = natural if draw.chance(0.5) else {"law": "fixed", "h": draw.text("W/m2K", 5, 14)}
    inside: dict[str, Any] = draw.pick((
        {"law": "scaled", "h": "6 W/m2K", "at_flow": "30 m3/h", "exponent": 0.6, "still": "2 W/m2K"},
        {"law": "natural"}, {"law": "fixed", "h": "5 W/m2K"}, {"law": "duct", "still": "2 W/m2K"},
    ))  # fmt: skip
    thick, metal = draw.between(0.8, 3), draw.pick(METALS)
    plan.tables["box"] = {
        "corner": "0, 0 mm", "size": size, "thickness": f"{thick:.3g} mm", "material": metal, "outside": outside,
    }  # fmt: skip
    if draw.chance(0.8):
        plan.tables["box"]["inside"] = {"to": "airway.main", **inside}
    spread = material(metal, {}).conductivity * thick / 1000
    plan.layers["sheet.floor"] = Layer(whole, spread, film=12.0)
    plan.layers["sheet.lid"] = Layer(whole, spread, film=12.0)


def _lay(plan: Plan, name: str) -> None:
    add_sheet(plan, f"sheet.{name}", _inner(plan, 0.75))


def _inner(plan: Plan, least: float) -> Area:
    """A rectangle that covers at least so much of the plan along x and y."""
    draw, whole = plan.draw, plan.whole
    width = round(whole.width * draw.between(least, 1.0))
    return whole.random_within(draw, width, round(whole.depth * draw.between(least, 1.0)))


def _written(plan: Plan, seed: int) -> dict[str, Any]:
    draw = plan.draw
    room = {"temperature": f"{plan.room} degC"}
    if draw.chance(0.2):
        room["altitude"] = draw.text("m", 100, 3000)
    run = {"duration": f"{plan.seconds:.5g} s", "cell": f"{plan.unit} mm", "merge": "1e-5 mm"}
    if draw.chance(0.2):
        run["start"] = f"{draw.between(10, 70):.4g} degC"
    return {"case": {"title": f"random box {seed}", "invented": True}, "room": room, "run": run} | plan.tables


def features(seed: int) -> frozenset[str]:
    """What the box of a seed has, read from the case itself."""
    return features_of(random_case(seed))


def features_of(case: Case) -> frozenset[str]:
    """What a case has of all that a random box may have."""
    found = chain(_solid(case.spec), _moving(case.spec), _running(case))
    return frozenset(feature for feature, there in found if there)


def _solid(spec: Spec) -> Iterator[tuple[str, bool]]:
    sheets = spec.sheet.values()
    yield f"{min(len(spec.sheet), 3)} sheets", True
    yield "patch", any(sheet.patch for sheet in sheets)
    yield "cutout", any(sheet.cutout for sheet in sheets)
    pairs = [(p.conductivity, s.conductivity) for s in sheets for p in s.patch.values()]
    yield "contrast", any(a and b and max(a / b, b / a) > CONTRAST for a, b in pairs)
    yield "copper layers", any(sheet.layers for sheet in sheets)
    yield "conducts unlike along and across", any(sheet.conductivity_y for sheet in sheets)
    yield "box", "lid" in spec.sheet
    yield "wall without a box", bool(spec.wall) and "lid" not in spec.sheet
    parts = spec.part.values()
    yield "part next to massless", any(part.heat_capacity < 1e-3 for part in parts)
    yield "massless top", any(part.to_top for part in parts)
    yield "part on no sheet", any(part.on is None for part in parts)
    yield "part on a plate", any((part.on or "").startswith("plate.") for part in parts)
    yield "one part", len(parts) == 1
    yield "six parts or more", len(parts) >= 6
    yield "source", bool(spec.source)
    for way in ("resistance", "resistivity", "conductance", "bond_line"):
        yield f"joint by {way}", any(getattr(joint, way) is not None for joint in spec.joint.values())
    yield "screws", any(joint.corner for joint in spec.joint.values())
    yield "facing radiation", bool(spec.radiation)
    for film in spec.film.values():
        yield f"{film.law} film", True
        yield "film on a rectangle", film.corner is not None
        yield "film to stated air", film.air is not None
        yield "radiation to the room", bool(film.emissivity)
    for edge in spec.edge.values():
        yield "held edge", edge.temperature is not None
        yield "cooled edge", edge.h is not None
        yield "heated edge", edge.heat is not None or edge.flux is not None
        yield "stretch of an edge", edge.stretch is not None
    yield "heat pipe", bool(spec.heat_pipe)


def _moving(spec: Spec) -> Iterator[tuple[str, bool]]:
    for way in spec.airway.values():
        yield "pinned airway", way.flow is not None
        yield "airway on its fan's curve", way.flow is None and bool(way.fans)
        yield "airway that stirs", way.returns
        yield "airway behind another", str(way.inlet).startswith("airway.") and not way.returns
        yield "inlet of a temperature", not isinstance(way.inlet, str)
        yield "no draught", not way.draught
    yield "no airway", not spec.airway
    for sink in spec.sink.values():
        yield "finned sink" if sink.fins else "measured sink", True
        yield "massless sink", sink.heat_capacity is None
    yield "air only", not spec.loop
    for loop in spec.loop.values():
        yield "loop", True
        yield "pinned loop", loop.flow is not None
        yield "branches", any(not isinstance(item, str) for item in loop.path)
        yield "glycol", loop.coolant != "water"
        kinds = {address.partition(".")[0] for _, address in loop_elements(loop.path)}
        yield "block", "block" in kinds
        yield "reservoir", "reservoir" in kinds
    yield "radiator in the box's air", any(radiator.airway == "main" for radiator in spec.radiator.values())
    yield "loss to the room", any(hose.loss for hose in spec.hose.values())


def _running(case: Case) -> Iterator[tuple[str, bool]]:
    spec = case.spec
    yield "no governor", not spec.governor
    yield "two governors", len(spec.governor) > 1
    for governor in spec.governor.values():
        yield f"governor: {governor.law}", True
        yield "governed pump", any(address.startswith("pump.") for address in governor.drives)
        yield "governed fan", any(address.startswith("fan.") for address in governor.drives)
        yield "ramp of a governor", governor.ramp is not None
        yield "governor reads a part", governor.sensor.startswith("part.")
        yield "governor reads no part", not governor.sensor.startswith("part.")
    yield "no duty", not spec.duty
    for duty in spec.duty.values():
        watts = duty.of.endswith(".watts")
        yield "states", duty.of == "state"
        yield "room swing", duty.of == "room.temperature"
        yield "sine", duty.sine is not None
        yield "steps of watts", watts and duty.points is not None and duty.shape == "step"
        yield "ramp of watts", watts and duty.points is not None and duty.shape == "ramp"
        yield "repeating", duty.repeat is not None
    yield "no mishap", not case.mishaps
    for name in case.mishaps:
        mishap = spec.mishap[name]
        yield "pump stop", any(address.startswith("pump.") for address in mishap.stops)
        yield "fan stop", any(address.startswith("fan.") for address in mishap.stops)
        yield "filter blocked", bool(mishap.blocks)
        yield "airlock", bool(mishap.airlock)
        yield "hot room", mishap.room_rise is not None
        yield "mishap that ends", mishap.ends is not None
    yield "start apart from the room", spec.run.start is not None

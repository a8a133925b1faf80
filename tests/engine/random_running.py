"""Random watts, governors, duties and mishaps."""

from random_flows import AIR
from random_plan import Plan, Spot, Tables
from random_solids import conductance_of

STATES = ("idle", "work", "peak")


def add_watts(plan: Plan) -> None:
    """Watts such that rises are mostly between 10 and 120 K, as far as two resistances and a stream can tell."""
    draw = plan.draw
    for address, spot in plan.parts.items():
        into_board = conductance_of(plan, spot.on, spot.area) if spot.on else 0.0
        wish = draw.between(6, 35) * (into_board + spot.ways)
        spot.watts = min(max(wish, 0.5), 60.0)
        spot.degc = plan.room + spot.watts / (into_board + spot.ways)
        if spot.on:
            to_board = draw.between(1, 20) / spot.watts
            plan.tables["part"][address[5:]]["to_board"] = f"{min(max(to_board, 0.1), 30):.3g} K/W"
    for on in dict.fromkeys(spot.on for spot in plan.parts.values() if spot.on):
        _share(plan, [spot for spot in plan.parts.values() if spot.on == on], on)
    for address, spot in plan.parts.items():
        plan.tables["part"][address[5:]]["watts"] = _stated(plan, spot.watts)


def _share(plan: Plan, spots: list[Spot], on: str) -> None:
    """Parts on one sheet share its films, and all the air of its stream."""
    layer, draw = plan.layers[on], plan.draw
    bears = 22.0 * (layer.film * plan.square_metres(layer.area) + sum(spot.ways for spot in spots))
    if "main" in plan.streams:
        bears = min(bears, draw.between(10, 28) * AIR * plan.streams["main"] + sum(22 * spot.ways for spot in spots))
    less = min(1.0, bears / sum(spot.watts for spot in spots))
    for spot in spots:
        spot.degc = plan.room + (spot.degc - plan.room) * max(less, 0.3)
        spot.watts = min(max(spot.watts * less, 0.5), 60.0)


def _stated(plan: Plan, watts: float) -> str | Tables:
    if not plan.draw.chance(0.4):
        return f"{watts:.3g} W"
    return {state: f"{watts * share:.3g} W" for state, share in zip(STATES, (0.3, 1.0, 1.4), strict=True)}


def add_source(plan: Plan) -> None:
    """Losses in the traces of a sheet, or a heater."""
    draw = plan.draw
    sheets = [address for address in plan.layers if address.startswith("sheet.")]
    if not sheets or not draw.chance(0.25):
        return
    on = draw.pick(sheets)
    layer = plan.layers[on]
    area = layer.area.random_within(draw, plan.cells(20, 80), plan.cells(20, 80))
    part = draw.chance(0.5) and not any(area.common(hole) for hole in layer.cutouts)
    watts = 4 * layer.film * plan.square_metres(area)
    plan.add("source.heater", on=on, watts=f"{min(max(watts, 0.1), 20):.3g} W", **(plan.place(area) if part else {}))


def add_governors(plan: Plan) -> None:
    """None, one or two, each with fans or a pump of its own."""
    draw = plan.draw
    movers = [*plan.names("fan"), *plan.names("pump")]
    for number in range(min(draw.pick((0, 0, 1, 1, 1, 2, 2)), len(movers))):
        drives = [movers.pop(draw.whole(0, len(movers) - 1))]
        if len(movers) > 1 and draw.chance(0.15):
            drives.append(movers.pop())
        sensor, degc = _sensor(plan, drives[0])
        plan.add(
            f"governor.g{number}", sensor=sensor, drives=drives, **_law(plan, degc),
            lag=draw.text("s", 1, 30) if draw.chance(0.6) else None,
            ramp=draw.text("%/s", 0.5, 10) if draw.chance(0.35) else None,
        )  # fmt: skip


def _sensor(plan: Plan, drives: str) -> tuple[str, float]:
    """What a governor reads, and roughly how warm it will be."""
    draw = plan.draw
    part, spot = draw.pick(list(plan.parts.items()))
    kinds = ["part"] * 4 + (["loop"] if drives.startswith("pump") or "loop" in plan.tables else [])
    kinds += ["sheet", "probe"] if spot.on else []
    kinds += ["airway"] if plan.streams else []
    kind = draw.pick(kinds)
    if kind == "part":
        return part, spot.degc
    middle = plan.room + 0.6 * (spot.degc - plan.room)
    if kind == "probe":
        area = spot.area
        x, y = (area.column + area.width / 2) * plan.unit, (area.row + area.depth / 2) * plan.unit
        plan.add("probe.spot", on=spot.on, at=f"{x:.6g}, {y:.6g} mm")
        return "probe.spot", middle
    if kind == "sheet":
        assert spot.on is not None
        return spot.on, middle
    mild = plan.room + draw.between(2, 8)
    return ("loop.main", mild) if kind == "loop" else (f"airway.{draw.pick(list(plan.streams))}", mild)


def _law(plan: Plan, degc: float) -> Tables:
    draw = plan.draw
    aim = degc + draw.between(-6, 6)
    law = draw.pick(("hold", "curve", "switch"))
    least = {"min_speed": f"{draw.between(10, 45):.3g} %"} if draw.chance(0.7) else {}
    if law == "hold":
        tuned = {"gain": draw.text("%/K", 1, 8), "reset": draw.text("s", 30, 300)}
        return {"law": law, "set_point": f"{aim:.4g} degC", **tuned, **least}
    if law == "curve":
        points = ((-12, 20), (0, 50), (15, 100))
        return {"law": law, "curve": [f"{aim + rise:.4g} degC, {speed} %" for rise, speed in points], **least}
    gap = draw.between(1.5, 5)
    return {"law": law, "on_above": f"{aim + gap:.4g} degC", "off_below": f"{aim - gap:.4g} degC", **least}


def add_duties(plan: Plan) -> None:
    """None, one or two things that change with time."""
    draw = plan.draw
    kinds = ["steps", "repeat", "sine", "ramp", "states", "room", "inlet"]
    for _ in range(draw.pick((0, 1, 1, 2))):
        kind = kinds.pop(draw.whole(0, len(kinds) - 1))
        if kind in ("room", "inlet"):
            _add_swing(plan, kind)
        elif kind == "states":
            _add_states(plan)
        else:
            _add_watts_course(plan, kind)


def _add_states(plan: Plan) -> None:
    times = sorted(plan.draw.between(0.1, 0.9) for _ in range(plan.draw.whole(1, 4)))
    points = [f"{share * plan.seconds:.5g} s, {plan.draw.pick(STATES)}" for share in times]
    plan.add("duty.state", of="state", points=["0 s, work", *points])


def _add_swing(plan: Plan, kind: str) -> None:
    """The room warms and cools, or an inlet with a temperature of its own does."""
    draw = plan.draw
    airway = plan.tables.get("airway", {}).get("main", {})
    of = "room.temperature"
    if kind == "inlet":
        if "degC" not in airway.get("inlet", ""):
            return
        of = "airway.main.inlet"
    room = plan.room
    if draw.chance(0.6):
        sine = {"mean": f"{room:.4g} degC", "amplitude": draw.text("K", 1, 6), "period": plan.minutes(0.2, 1.2)}
        plan.add(f"duty.{kind}", of=of, sine=sine)
        return
    points = [f"{plan.seconds * share:.5g} s, {room + draw.between(-4, 8):.4g} degC" for share in (0.0, 0.4, 0.7)]
    plan.add(f"duty.{kind}", of=of, points=points, shape=draw.pick(("step", "ramp")))


def _add_watts_course(plan: Plan, kind: str) -> None:
    draw = plan.draw
    steady = [p for p in plan.parts if isinstance(plan.tables["part"][p[5:]]["watts"], str)]
    taken = [duty["of"] for duty in plan.tables.get("duty", {}).values()]
    steady = [p for p in steady if f"{p}.watts" not in taken]
    if not steady:
        return
    part = draw.pick(steady)
    watts, span, of = plan.parts[part].watts, plan.seconds, f"{part}.watts"
    if kind == "sine":
        swing = {"mean": f"{watts:.3g} W", "amplitude": f"{0.8 * watts:.3g} W", "period": plan.minutes(0.05, 0.6)}
        plan.add("duty.sine", of=of, sine=swing)
        return
    shares = (0.0, 0.3, 0.5, 0.8)
    repeat = None
    if kind == "repeat":
        repeat = span / draw.whole(2, 10)
        span = repeat
    points = [f"{share * span:.5g} s, {watts * draw.between(0, 1.6):.3g} W" for share in shares]
    shape = "ramp" if kind == "ramp" else draw.pick(("step", "step", "ramp")) if kind == "repeat" else "step"
    plan.add(
        f"duty.{kind}", of=of, points=points, shape=shape,
        repeat=f"{repeat:.6g} s" if repeat is not None else None,
    )  # fmt: skip


def add_mishaps(plan: Plan) -> list[str]:
    """None, one or two that happen, at random times; returns their names."""
    draw = plan.draw
    kinds: dict[str, Tables] = {"hot_room": {"room_rise": draw.text("K", 4, 15)}}
    for stops in [*plan.names("fan"), *plan.names("pump")]:
        kinds[f"{stops.replace('.', '_')}_stops"] = {"stops": [stops]}
    fanned = [name for name, way in plan.tables.get("airway", {}).items() if "fans" in way]
    if fanned:
        kinds["filter_blocked"] = {"blocks": {f"airway.{draw.pick(fanned)}": draw.between(2, 20)}}
    if "loop" in plan.tables:
        kinds["airlock"] = {"airlock": plan.branch or ["hose.out"]}
    names = list(kinds)
    happening = []
    for _ in range(min(draw.pick((0, 0, 1, 1, 2)), len(names))):
        name = names.pop(draw.whole(0, len(names) - 1))
        begins = draw.between(0.0, 0.6) if draw.chance(0.9) else 0.0
        ends = f"{(begins + draw.between(0.1, 0.3)) * plan.seconds:.5g} s" if draw.chance(0.35) else None
        plan.add(f"mishap.{name}", at=f"{begins * plan.seconds:.5g} s", ends=ends, **kinds[name])
        happening.append(name)
    return happening

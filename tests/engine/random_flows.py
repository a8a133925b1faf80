"""Random air and coolant: airways with fans or stated flows, sinks, heat pipes, a loop."""

from typing import Any

from random_plan import Area, Layer, Plan, Spot, Tables
from random_solids import conductance_of, film_law, heat_capacity, joint

FALL = ((0.0, 1.0), (0.35, 0.8), (0.7, 0.45), (1.0, 0.0))  # shares of free flow and closed pressure
AIR = 0.33  # W/K in a stream of 1 m³/h


def add_airways(plan: Plan) -> None:
    """None, one over the plan, and perhaps another that draws from it, stirs in it or has air of its own."""
    draw = plan.draw
    if "box" not in plan.tables and draw.chance(0.2):
        return
    inlet = draw.pick(("room", "room", f"{plan.room + draw.between(-6, 4):.4g} degC"))
    add_airway(plan, "main", inlet=inlet, drawn=True)
    if draw.chance(0.35):
        kind = draw.pick(("behind", "stirs", "apart"))
        inlet = "room" if kind == "apart" else "airway.main"
        add_airway(plan, "second", inlet=inlet, drawn=kind == "behind", returns=True if kind == "stirs" else None)


def add_airway(plan: Plan, name: str, drawn: bool, **more: Any) -> None:
    """An airway with one fan table, a stated flow, or both; `drawn`: over the plan, so that films may use it."""
    draw = plan.draw
    over: Tables = {}
    if drawn:
        height = draw.text("mm", 10, 60)
        over = {**plan.place(plan.whole), "height": height, "direction": draw.pick(("+x", "-x", "+y", "-y"))}
        over["segments"] = draw.whole(3, 24)
    if draw.chance(0.7):
        over["draught"] = draw.text("m3/h", 0.5, 3)
    flow = draw.between(8, 60)
    how = draw.pick(("fan", "fan", "fan", "pinned", "both"))
    if how != "fan":
        over["flow"] = f"{flow:.4g} m3/h"
    if how != "pinned":
        over |= _fan(plan, name, flow)
    plan.add(f"airway.{name}", **over, **more)
    plan.streams[name] = flow


def _fan(plan: Plan, name: str, flow: float) -> Tables:
    """A fan that gives roughly this flow (m³/h) against what stands in its way."""
    draw = plan.draw
    count, closed, share = draw.whole(1, 2), draw.between(15, 60), draw.between(0.4, 0.9)
    free = flow / share / count
    plan.add(
        f"fan.{name}", curve=[f"{free * q:.4g} m3/h, {closed * p:.4g} Pa" for q, p in FALL],
        count=count, heat=draw.text("W", 0.2, 2) if draw.chance(0.3) else None,
        speed=f"{draw.between(50, 100):.3g} %" if draw.chance(0.4) else None,
        noise="28 dB(A)" if draw.chance(0.3) else None, rated_speed="2400 rpm",
    )  # fmt: skip
    drop = closed * (1.0 - share**1.5) / flow**2
    stands: Tables = {"resistance": f"{drop:.4g} Pa/(m3/h)2"}
    if draw.chance(0.3):
        stands["filter"] = f"{0.3 * drop:.4g} Pa/(m3/h)2"
    if draw.chance(0.2):
        stands["opening"] = {"vent": {"area": draw.text("cm2", 20, 80), "loss": 2.8}}
    return {"fans": [f"fan.{name}"], **stands}


def add_sinks(plan: Plan) -> None:
    """Sinks on parts, measured or from their fins, with or without a heat capacity."""
    draw = plan.draw
    for address, spot in plan.parts.items() if plan.streams else ():
        if spot.face != "top" or not draw.chance(0.25):
            continue
        name, airway = address[5:], draw.pick(list(plan.streams))
        flow = plan.streams[airway]
        sized = "size" in plan.tables["airway"][airway]
        capacity = draw.text("J/K", 5, 100) if draw.chance(0.6) else None
        how = _fins(plan) if sized and draw.chance(0.45) else {
            "resistance": draw.text("K/W", 0.8, 6),
            "at_flow": f"{flow * draw.between(0.7, 1.4):.4g} m3/h",
            "exponent": draw.between(0.4, 0.8),
        }  # fmt: skip
        still = draw.text("K/W", 8, 25) if draw.chance(0.8) else None
        plan.add(f"sink.{name}", on=address, airway=airway, still=still, heat_capacity=capacity, **how)
        plan.add(f"joint.{name}_sink", between=[address, f"sink.{name}"], resistance=draw.text("K/W", 0.03, 0.8))
        spot.ways += min(0.25, 0.5 * AIR * flow)


def _fins(plan: Plan) -> Tables:
    draw = plan.draw
    side, height = draw.between(20, 50), draw.between(8, 25)
    airway = plan.tables["airway"]["main"]
    return {
        "base": f"{side:.4g} x {side:.4g} mm", "fins": draw.whole(5, 14), "fin_thickness": "0.8 mm",
        "fin_height": f"{min(height, float(airway['height'].split()[0]) - 1):.4g} mm", "conductivity": "190 W/mK",
        "flow_share": draw.between(0.05, 0.4),
    }  # fmt: skip


def add_heat_pipes(plan: Plan) -> None:
    """Pipes from a part to a rectangle of a sheet, or to a fin stack of its own."""
    draw = plan.draw
    if not plan.parts or not draw.chance(0.25):
        return
    hot, spot = draw.pick(list(plan.parts.items()))
    others = [o for o in plan.layers if o != spot.on and not plan.layers[o].cutouts]
    end: Tables = {}
    if others and draw.chance(0.5):
        cold = draw.pick(others)
        area = plan.layers[cold].area.random_within(draw, plan.cells(15, 40), plan.cells(15, 40))
        end = plan.place(area)
        spot.ways += conductance_of(plan, cold, area)
    else:
        cold = "part.stack"
        law, h = film_law(plan, Area(0, 0, 10, 10), "up")
        middle = f"{plan.whole.width * plan.unit / 2:.6g}, {plan.whole.depth * plan.unit / 2:.6g} mm"
        plan.add(cold, centre=middle, size="100 x 80 mm", watts="0 W", heat_capacity=heat_capacity(plan))
        plan.add("film.stack", on=cold, **law)
        spot.ways += 0.008 * h
    plan.add(
        "heat_pipe.main", between=[hot, cold], count=draw.whole(1, 3), resistance=draw.text("K/W", 0.2, 0.8),
        capacity="35 W", bends=draw.whole(0, 2), **end,
    )  # fmt: skip


def add_plate(plan: Plan, area: Area) -> None:
    """A plate with a channel that goes to and fro over it."""
    draw = plan.draw
    width = draw.between(2.5, 5)
    margin, legs = width + 1, draw.whole(1, 4)
    left, right = area.column * plan.unit + margin, (area.column + area.width) * plan.unit - margin
    front, back = area.row * plan.unit + margin, (area.row + area.depth) * plan.unit - margin
    path = []
    for leg in range(legs):
        y = front + (back - front) * ((leg + 0.5) / legs)
        ends = (left, right) if leg % 2 == 0 else (right, left)
        path += [f"{x:.6g}, {y:.6g} mm" for x in ends]
    channel: Tables = {"path": path, "width": f"{width:.4g} mm", "depth": draw.text("mm", 1.5, 4)}
    channel |= {"segments": draw.whole(4, 40), "heated_walls": draw.pick((3, 4))}
    made = draw.pick((("aluminium 6061", 167.0), ("copper", 390.0), ("stainless 304", 15.0)))
    thick = draw.between(6, 12)
    plan.add(
        "plate.cold", **plan.place(area), thickness=f"{thick:.3g} mm", material=made[0], channel=channel
    )  # fmt: skip
    plan.layers["plate.cold"] = Layer(area, made[1] * thick / 1000, film=200.0)


def add_loop(plan: Plan) -> None:
    """A loop through the plate, perhaps with branches and a block on a part, to a radiator."""
    draw = plan.draw
    air = "main" if "main" in plan.streams and draw.chance(0.35) else "radiator"
    if air == "radiator":
        add_airway(plan, "radiator", drawn=False, inlet="room")
    hose, free = _hoses(plan), draw.between(0.8, 4)
    path: list[Any] = [hose("out"), *_cooled(plan, hose), hose("back")]
    plan.add(
        "radiator.main", airway=air, conductance=draw.text("W/K", 6, 25), exponent=draw.between(0.3, 0.8),
        at_flow=f"{plan.streams[air] * draw.between(0.7, 1.5):.4g} m3/h", volume=draw.text("mL", 40, 200),
        arrangement=draw.pick(("cross", "counter", "parallel")), place=draw.pick(("inlet", "outlet")),
        still=draw.text("W/K", 0.5, 2) if draw.chance(0.7) else None,
        heat_capacity=draw.text("J/K", 100, 400) if draw.chance(0.7) else None, **_drop(plan),
    )  # fmt: skip
    path.append("radiator.main")
    if draw.chance(0.7):
        loss = draw.text("W/K", 0.1, 0.5) if draw.chance(0.3) else None
        plan.add("reservoir.tank", volume=draw.text("mL", 50, 300), loss=loss)
        path.append("reservoir.tank")
    closed = draw.between(10, 50)
    plan.add(
        "pump.main", curve=[f"{free * q:.4g} L/min, {closed * p:.4g} kPa" for q, p in FALL],
        heat=draw.text("W", 0.5, 4) if draw.chance(0.6) else None,
        speed=f"{draw.between(60, 100):.3g} %" if draw.chance(0.3) else None,
    )  # fmt: skip
    liquid = draw.pick(("water", "ethylene glycol", "propylene glycol"))
    plan.add(
        "loop.main", pump="pump.main", coolant=liquid, path=path,
        fraction=None if liquid == "water" else f"{draw.between(20, 45):.3g} %",
        flow=f"{0.5 * free:.4g} L/min" if draw.chance(0.25) else None,
    )  # fmt: skip


def _hoses(plan: Plan) -> Any:
    draw = plan.draw

    def hose(name: str) -> str:
        plan.add(
            f"hose.{name}", length=draw.text("m", 0.2, 2), bore=draw.text("mm", 4, 8), fittings={"barb": 2, "elbow": 1},
            loss=draw.text("W/mK", 0.1, 0.4) if draw.chance(0.3) else None, segments=draw.whole(1, 6),
        )  # fmt: skip
        return f"hose.{name}"

    return hose


def _cooled(plan: Plan, hose: Any) -> list[Any]:
    """The plate alone, or beside a bypass or a block, or with the block behind it."""
    draw = plan.draw
    how = draw.pick(("plate", "bypass", "beside", "behind"))
    block = _block(plan) if how in ("beside", "behind") else None
    if how == "bypass":
        plan.branch = [hose("bypass")]
        return [["plate.cold", plan.branch[0]]]
    if block is None:
        return ["plate.cold"]
    if how == "behind":
        return ["plate.cold", hose("link"), block]
    plan.branch = [draw.pick(("plate.cold", block))]
    return [[[hose("one"), "plate.cold"], block]]


def _block(plan: Plan) -> str | None:
    """A block on a part, where there is one with its top free."""
    draw = plan.draw
    free = [(address, spot) for address, spot in plan.parts.items() if spot.face == "top"]
    if not free:
        return None
    address, spot = draw.pick(free)
    measured = {"at_flow": draw.text("L/min", 0.8, 2), "exponent": draw.between(0.2, 0.5)} if draw.chance(0.7) else {}
    plan.add(
        "block.b", resistance=draw.text("K/W", 0.05, 0.5), volume=draw.text("mL", 5, 30), **measured,
        still=draw.text("K/W", 2, 6), heat_capacity=draw.text("J/K", 20, 120) if draw.chance(0.6) else None,
        **_drop(plan),
    )  # fmt: skip
    plan.add("joint.block", between=[address, "block.b"], resistance=draw.text("K/W", 0.02, 0.3))
    spot.ways += 1.5
    return "block.b"


def _drop(plan: Plan) -> Tables:
    draw = plan.draw
    return {"drop": draw.text("kPa", 0.5, 5), "drop_at": "1 L/min", "drop_exponent": draw.between(1.2, 2)}


def add_plate_joints(plan: Plan) -> None:
    """Parts over the plate are pressed onto it."""
    plate = plan.layers["plate.cold"]
    for address, spot in plan.parts.items():
        if spot.on != "plate.cold" and plate.area.common(spot.area) and plan.draw.chance(0.7):
            plan.add(f"joint.{address[5:]}_plate", between=[address, "plate.cold"], **joint(plan))
            spot.ways += 0.7


def add_free_part(plan: Plan) -> None:
    """A part on no sheet: it stands in the air and on a bracket."""
    draw = plan.draw
    if not draw.chance(0.25):
        return
    area = plan.whole.random_within(draw, plan.cells(30, 60), plan.cells(30, 60))
    law, h = film_law(plan, area, "vertical")
    centre = (area.column + area.width / 2) * plan.unit, (area.row + area.depth / 2) * plan.unit
    spot = plan.parts["part.free"] = Spot(None, area, face="beside")
    plan.add(
        "part.free", centre=f"{centre[0]:.6g}, {centre[1]:.6g} mm", heat_capacity=heat_capacity(plan),
        size=f"{area.width * plan.unit:.6g} x {area.depth * plan.unit:.6g} mm",
    )  # fmt: skip
    plan.add("film.free", on="part.free", **law)
    spot.ways += h * plan.square_metres(area)
    sheets = [a for a in plan.layers if not plan.layers[a].cutouts and plan.layers[a].area.common(area)]
    if sheets and draw.chance(0.6):
        to = draw.pick(sheets)
        plan.add("joint.free", between=["part.free", to], resistance=draw.text("K/W", 2, 10))
        spot.ways += 0.15

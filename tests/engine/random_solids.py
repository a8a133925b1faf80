"""Random sheets, films, edges, walls, parts and what holds them together."""

from itertools import pairwise
from math import sqrt

from random_plan import Area, Layer, Plan, Spot, Tables

from thermsim.case.materials import material

METALS = ("aluminium 6061", "aluminium 1050", "copper", "steel", "stainless 304", "brass")
POOR = ("fr4", "polycarbonate", "glass")
SIDES = ("left", "right", "front", "back")
TRIES = 25


def stuff(plan: Plan, thickness_mm: float) -> tuple[Tables, float]:
    """What a sheet is made of, and its conductance in the plane, k t in W/K."""
    draw = plan.draw
    kind = draw.pick(("metal", "metal", "poor", "stated", "stated", "across", "layers"))
    if kind in ("metal", "poor"):
        name = draw.pick(METALS if kind == "metal" else POOR)
        return {"material": name}, material(name, {}).conductivity * thickness_mm / 1000
    if kind == "layers":
        count = draw.whole(1, 4)
        share = draw.between(0.2, 0.9)
        layers = [{"thickness": "35 um", "copper": f"{100 * share:.3g} %"} for _ in range(count)]
        return {"layers": layers}, 390 * 35e-6 * share * count + 0.3 * thickness_mm / 1000
    k = draw.log(0.3, 400)
    made = {"conductivity": f"{k:.4g} W/mK", "heat_density": draw.text("MJ/m3K", 1.2, 3.5)}
    if kind == "across":
        made["conductivity_y"] = f"{k * draw.log(0.1, 10):.4g} W/mK"
        made["conductivity_through"] = draw.text("W/mK", 0.3, 5)
    return made, k * thickness_mm / 1000


def add_sheet(plan: Plan, address: str, area: Area, pieces: bool = True) -> None:
    """A sheet with patches and a cutout, if the draw will have them."""
    draw = plan.draw
    thick = draw.log(0.5, 6)
    made, spread = stuff(plan, thick)
    sheet = plan.add(address, **plan.place(area), thickness=f"{thick:.3g} mm", **made)
    layer = plan.layers[address] = Layer(area, spread)
    if not pieces:
        return
    if draw.chance(0.5):
        sheet["patch"] = {f"patch{n}": _patch(plan, area, spread / thick * 1000) for n in range(draw.whole(1, 2))}
    if draw.chance(0.3):
        hole = area.random_within(draw, max(1, area.width // 5), max(1, area.depth // 5))
        sheet["cutout"] = {"hole": plan.place(hole)}
        layer.cutouts.append(hole)


def _patch(plan: Plan, area: Area, conductivity: float) -> Tables:
    draw = plan.draw
    where = area.random_within(draw, draw.whole(1, area.width // 2), draw.whole(1, area.depth // 2))
    patch: Tables = plan.place(where)
    kind = draw.pick(("contrast", "contrast", "stuff", "thickness"))
    if kind == "thickness":
        return patch | {"thickness": draw.text("mm", 0.5, 8)}
    if kind == "stuff":
        return patch | stuff(plan, 1.0)[0]
    other = 400 if conductivity < 20 else 0.3
    return patch | {"conductivity": f"{other} W/mK", "heat_density": "2 MJ/m3K"}


def add_films(plan: Plan) -> None:
    """A film on one face of every sheet or on both, some of them on a part of the face only."""
    for address, layer in plan.layers.items():
        name = address.replace(".", "_")
        if address in ("sheet.lid", "sheet.floor"):
            continue  # the box's films are its own
        both = plan.draw.chance(0.7)
        for face in ("top", "bottom") if both else (plan.draw.pick(("top", "bottom")),):
            law, h = film_law(plan, layer.area, "up" if face == "top" else "down")
            part = both and face == "bottom" and plan.draw.chance(0.2)
            where = layer.area.random_within(plan.draw, layer.area.width // 2, layer.area.depth // 2)
            if any(hole.common(where) == where for hole in layer.cutouts):
                part = False
            plan.add(f"film.{name}_{face}", on=address, face=face, **law, **(plan.place(where) if part else {}))
            layer.film += h * (0.25 if part else 1.0)


def film_law(plan: Plan, area: Area, orientation: str) -> tuple[Tables, float]:
    """How a face meets air, and roughly how well, W/m²K."""
    draw = plan.draw
    drawn = [name for name in plan.streams if "corner" in plan.tables["airway"][name]]
    laws = ["scaled", "scaled", "duct", "plate", "natural", "fixed"] if drawn else ["fixed", "natural", "air"]
    law = draw.pick(laws)
    if law in ("fixed", "air"):
        h = draw.between(6, 40)
        air = {"air": f"{plan.room + draw.between(-5, 5):.4g} degC"} if law == "air" else {}
        return {"law": "fixed", "h": f"{h:.3g} W/m2K", **air}, h
    if law == "natural":
        length = 500 * plan.unit * area.cells / (area.width + area.depth) / 1000
        radiates = draw.between(0.1, 0.95)
        table = {"law": law, "orientation": orientation, "length": f"{length:.4g} mm", "emissivity": radiates}
        return table, 5 + 5.5 * radiates
    name = draw.pick(drawn)
    way = {"law": law, "to": f"airway.{name}"}
    still = {"still": draw.text("W/m2K", 1.5, 4)} if draw.chance(0.85) else {}
    if law == "scaled":
        h = draw.between(8, 40)
        at_flow = f"{plan.streams[name] * draw.between(0.6, 1.5):.4g} m3/h"
        exponent = draw.between(0.4, 0.8)
        return {**way, "h": f"{h:.3g} W/m2K", "at_flow": at_flow, "exponent": exponent, **still}, h
    return {**way, **still}, 12.0


def add_facing(plan: Plan) -> None:
    """Radiation between sheets, screws from one to another, walls at their rims."""
    draw = plan.draw
    sheets = list(plan.layers)
    for first, second in pairwise(sheets):
        pair = [first, second]
        common = plan.layers[first].area.common(plan.layers[second].area)
        if common is None:
            continue
        name = f"{first}_{second}".replace("sheet.", "").replace("plate.", "")
        if draw.chance(0.5):
            plan.add(f"radiation.{name}", between=pair, emissivity=[draw.between(0.1, 1), draw.between(0.1, 1)])
        if draw.chance(0.5):
            screw = common.random_within(draw, plan.cells(5, 20), plan.cells(5, 20))
            if not _holed(plan, pair, screw):
                plan.add(f"joint.{name}", between=pair, resistance=draw.text("K/W", 0.5, 10), **plan.place(screw))
        if "box" not in plan.tables and draw.chance(0.4):
            side = draw.pick(SIDES)
            run = (plan.whole.depth if side in ("left", "right") else plan.whole.width) * plan.unit
            plan.add(
                f"wall.{name}", side=side, size=f"{run:.5g} x {draw.between(10, 60):.3g} mm", joins=pair,
                thickness=draw.text("mm", 0.8, 4), material=draw.pick(METALS),
            )  # fmt: skip
            if draw.chance(0.6):
                plan.add(f"film.{name}_wall", on=f"wall.{name}", law="fixed", h=draw.text("W/m2K", 4, 15))


def _holed(plan: Plan, addresses: list[str], area: Area) -> bool:
    return any(hole.common(area) for address in addresses for hole in plan.layers[address].cutouts)


def add_edges(plan: Plan) -> None:
    """Rims held at a temperature, cooled (a massless rim node) or heated; a stretch of one or all of it."""
    draw = plan.draw
    sheets = [address for address in plan.layers if address.startswith("sheet.") and "box" not in plan.tables]
    for number in range(draw.whole(0, 2) if sheets else 0):
        on, side = draw.pick(sheets), SIDES[number + draw.pick((0, 2))]
        area = plan.layers[on].area
        how = draw.pick(("held", "cooled", "cooled", "cooled", "heat", "flux"))
        ways: dict[str, Tables] = {
            "held": {"temperature": f"{plan.room + draw.between(-3, 8):.4g} degC"},
            "cooled": {"h": draw.text("W/m2K", 3, 60), "emissivity": draw.between(0.05, 1)},
            "heat": {"heat": draw.text("W", 0.2, 2)},
            "flux": {"flux": draw.text("W/m2", 50, 800)},
        }
        table = ways[how]
        if draw.chance(0.4):
            start, run = (area.row, area.depth) if side in ("left", "right") else (area.column, area.width)
            half = start + run // 2 if draw.chance(0.5) else start + run
            table["stretch"] = f"{start * plan.unit:.6g}, {half * plan.unit:.6g} mm"
        plan.add(f"edge.e{number}", on=on, side=side, **table)


def add_parts(plan: Plan) -> None:
    """Parts where there is room for them; the first may have rims between the lines of the others' grid."""
    draw = plan.draw
    hosts = [address for address in plan.layers if address not in ("sheet.lid", "sheet.floor")]
    for number in range(draw.whole(1, 8)):
        on, face = draw.pick(hosts), draw.pick(("top", "top", "bottom"))
        for _ in range(TRIES):
            area = plan.layers[on].area.random_within(draw, plan.cells(8, 40), plan.cells(8, 40))
            taken = [spot.area for spot in plan.parts.values() if spot.on == on and spot.face == face]
            if not any(area.common(other) for other in [*taken, *plan.layers[on].cutouts]):
                _add_part(plan, f"part.p{number}", Spot(on, area, face), odd=number == 0 and draw.chance(0.3))
                break


def _add_part(plan: Plan, address: str, spot: Spot, odd: bool) -> None:
    draw, area, unit = plan.draw, spot.area, plan.unit
    less = 0.5 if odd and area.width > 1 and area.depth > 1 else 0.0
    centre = (area.column + area.width / 2) * unit, (area.row + area.depth / 2) * unit
    plan.parts[address] = spot
    plan.add(
        address, on=spot.on, face=spot.face, centre=f"{centre[0]:.7g}, {centre[1]:.7g} mm",
        size=f"{(area.width - less) * unit:.7g} x {(area.depth - less) * unit:.7g} mm",
        heat_capacity=heat_capacity(plan), to_top=draw.text("K/W", 0.1, 1) if draw.chance(0.3) else None,
    )  # fmt: skip


def heat_capacity(plan: Plan) -> str:
    """From next to nothing (a case file takes no zero here) to 20 J/K."""
    return "1e-6 J/K" if plan.draw.chance(0.15) else plan.draw.text("J/K", 0.05, 20)


def add_pads(plan: Plan) -> None:
    """Joints from parts to another sheet over or under them, stated in each of the four ways."""
    draw = plan.draw
    for address, spot in plan.parts.items():
        others = [o for o in plan.layers if o != spot.on and plan.layers[o].area.common(spot.area)]
        others = [o for o in others if not _holed(plan, [o], spot.area)]
        if not others or not draw.chance(0.4):
            continue
        to = draw.pick(others)
        plan.add(f"joint.{address[5:]}_pad", between=[address, to], **joint(plan))
        spot.ways += 0.3 * conductance_of(plan, to, spot.area)


def joint(plan: Plan) -> Tables:
    """Paste, pad or what a maker measured."""
    draw = plan.draw
    way = draw.pick(("resistance", "resistivity", "conductance", "bond_line"))
    if way == "bond_line":
        contact = {"contact": "0.05 cm2K/W"} if draw.chance(0.5) else {}
        return {"bond_line": draw.text("mm", 0.05, 2), "conductivity": draw.text("W/mK", 0.8, 6), **contact}
    return {way: {
        "resistance": draw.text("K/W", 0.05, 3), "resistivity": draw.text("cm2K/W", 0.1, 5),
        "conductance": draw.text("W/m2K", 2e3, 5e4),
    }[way]}  # fmt: skip


def conductance_of(plan: Plan, address: str, area: Area) -> float:
    """Roughly, W/K from a footprint on a sheet to the air: the sheet about it as a fin."""
    layer = plan.layers[address]
    film = max(layer.film, 2.0)
    reach = 2 * sqrt(layer.spread / film)
    whole = plan.square_metres(layer.area)
    unit = plan.unit / 1000
    return film * min((area.width * unit + reach) * (area.depth * unit + reach), whole)

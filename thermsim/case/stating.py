"""Is each thing stated, once and with what it needs: stuff, joints, films, edges, parts, sinks, airways."""

from collections.abc import Iterator, Sequence

from thermsim import units
from thermsim.case.address import reader_of
from thermsim.case.errors import Finding, KeyPath
from thermsim.case.fields import Table
from thermsim.case.flow import Airway, Sink
from thermsim.case.materials import material
from thermsim.case.rectangles import extent
from thermsim.case.references import find, sheet_at, tables
from thermsim.case.schema import Spec
from thermsim.case.solid import Film, HeatPipe, Joint, Part, Patch, Stuff

FILM_NEEDS = {
    "fixed": ("h",),
    "scaled": ("h", "at_flow", "exponent"),
    "natural": ("orientation", "length"),
    "duct": (),
    "plate": (),
}
FILM_MAY = {"scaled": ("still",), "duct": ("length", "still"), "plate": ("length", "still")}
LAW_KEYS = ("h", "at_flow", "exponent", "still", "orientation", "length")
FORCED = ("scaled", "duct", "plate")
JOINT_WAYS = ("resistance", "resistivity", "conductance", "bond_line")
SOURCE_WAYS = ("watts", "flux", "density")
FINS = ("base", "fins", "fin_height", "fin_thickness", "conductivity")


def check_statements(spec: Spec) -> Iterator[Finding]:
    """All checks of this module."""
    yield from _all_stuff(spec)
    for name, part in spec.part.items():
        yield from _part(spec, name, part)
    for name, source in spec.source.items():
        yield from one_of(source, ("source", name), SOURCE_WAYS)
    for name, joint in spec.joint.items():
        yield from _joint(spec, joint, ("joint", name))
    for name, film in spec.film.items():
        yield from _film(spec, film, ("film", name))
    for name, sink in spec.sink.items():
        yield from _sink(spec, name, sink)
    for name, airway in spec.airway.items():
        yield from _airway(airway, ("airway", name))
    yield from _edges(spec)
    yield from _measured_blocks(spec)


def given(table: Table, keys: Sequence[str]) -> list[str]:
    """Those of the keys that the user gave."""
    return [key for key in keys if key in table.model_fields_set and getattr(table, key) is not None]


def missing(at: KeyPath, key: str, why: str) -> Finding:
    """A finding that asks for a key."""
    how = reader_of((*at, key))
    if "dimension" in how:
        why += f', for example {key} = "{units.example(how["dimension"], how.get("count", 1))}"'
    return (*at, key), f"missing; {why}"


def one_of(table: Table, at: KeyPath, keys: Sequence[str]) -> Iterator[Finding]:
    """Exactly one of the keys is given."""
    found = given(table, keys)
    if not found:
        yield at, f"give one of {', '.join(keys)}"
    if len(found) > 1:
        yield (*at, found[-1]), f"give only one of {', '.join(found)}"


def _all_stuff(spec: Spec) -> Iterator[Finding]:
    for kind in ("sheet", "plate"):
        for name, sheet in tables(spec, kind).items():
            yield from _stuff(spec, sheet, (kind, name))
            for patch_name, patch in sheet.patch.items():
                yield from _stuff(spec, patch, (kind, name, "patch", patch_name))
    for name, wall in spec.wall.items():
        yield from _material(spec, wall.material, ("wall", name, "material"))


def _stuff(spec: Spec, stuff: Stuff, at: KeyPath) -> Iterator[Finding]:
    keys = ("material", "layers", "conductivity")
    if isinstance(stuff, Patch) and not given(stuff, keys):
        if stuff.thickness is None:
            yield at, f"give one of {', '.join(keys)}, or another thickness"
    else:
        yield from one_of(stuff, at, keys)
    if stuff.material is not None:
        yield from _material(spec, stuff.material, (*at, "material"))
    if stuff.conductivity is None:
        for key in given(stuff, ("conductivity_y", "conductivity_through", "heat_density")):
            yield (*at, key), "goes with conductivity only"
        return
    ways = ("heat_density",) if isinstance(stuff, Patch) else ("heat_density", "heat_capacity")
    found = given(stuff, ways)
    if not found and not isinstance(stuff, Patch):
        yield missing(at, "heat_density", "with conductivity, give heat_density or heat_capacity")
    if len(found) > 1:
        yield (*at, found[-1]), f"give only one of {', '.join(found)}"


def _material(spec: Spec, name: str, at: KeyPath) -> Iterator[Finding]:
    try:
        material(name, spec.material)
    except ValueError as error:
        yield at, str(error)


def _part(spec: Spec, name: str, part: Part) -> Iterator[Finding]:
    at: KeyPath = ("part", name)
    if part.on is not None:
        for key in ("centre", "size", "to_board"):
            if getattr(part, key) is None:
                yield missing(at, key, f"a part on {part.on} needs it")
        return
    if part.to_board is not None:
        yield (*at, "to_board"), "leads nowhere: the part is on no sheet"
    address = f"part.{name}"
    ends = [end for joint in spec.joint.values() for end in joint.between]
    ends += [end for pipe in spec.heat_pipe.values() for end in pipe.between]
    if address not in ends and not any(film.on == address for film in spec.film.values()):
        yield at, "its heat has no way out: put it on a sheet, or give it a joint, a film or a heat pipe"


def _joint(spec: Spec, joint: Joint, at: KeyPath) -> Iterator[Finding]:
    yield from one_of(joint, at, JOINT_WAYS)
    if joint.bond_line is not None and joint.conductivity is None:
        yield missing(at, "conductivity", "a bond line needs it")
    if joint.bond_line is None:
        for key in given(joint, ("conductivity", "contact")):
            yield (*at, key), "goes with bond_line only"
    placed = joint.area is not None or joint.corner is not None
    for address in joint.between:
        found = find(spec, address)
        if isinstance(found, Part) and not placed and extent(spec, address) is None:
            facing = [other for other in joint.between if sheet_at(spec, other)]
            if facing:
                ways = f"give {address} a centre and size, or the joint a corner and size"
                yield at, f"where on {facing[0]}? Please {ways}"
                return
    sized = [end for end in joint.between if _has_own_area(spec, end)]
    both_known = all(extent(spec, end) for end in joint.between)
    if joint.resistance is None and not placed and not sized and not both_known:
        yield missing(at, "area", "the ends do not tell it")


def _has_own_area(spec: Spec, address: str) -> bool:
    found = find(spec, address)
    return isinstance(found, Part) and found.size is not None


def _film(spec: Spec, film: Film, at: KeyPath) -> Iterator[Finding]:
    needs, may = FILM_NEEDS[film.law], FILM_MAY.get(film.law, ())
    for key in needs:
        if getattr(film, key) is None:
            yield missing(at, key, f'law "{film.law}" needs it')
    for key in given(film, LAW_KEYS):
        if key not in (*needs, *may):
            yield (*at, key), f'law "{film.law}" does not use it'
    if film.air is not None and "to" in film.model_fields_set:
        yield (*at, "air"), "give either air or to"
    if film.law in FORCED and film.to == "room":
        yield (*at, "to"), f'law "{film.law}" needs an airway, for example to = "airway.main"'
    if film.law == "natural" and film.to == "room" and film.emissivity is None:
        yield (
            (*at, "emissivity"),
            ("missing; how does the finish radiate? 0.9 if painted, 0.07 if bare aluminium, 0 if not at all"),
        )
    on = find(spec, film.on)
    if isinstance(on, Part) and on.size is None:
        yield (*at, "on"), f"{film.on} has no size for the film to cover"
    airway = spec.airway.get(film.to.removeprefix("airway."))
    if airway is not None and film.to != "room":
        yield from _film_airway(spec, film, airway, at)


def _film_airway(spec: Spec, film: Film, airway: Airway, at: KeyPath) -> Iterator[Finding]:
    needs = ["corner", "size"] if extent(spec, film.on) else []
    needs += ["size", "height"] if film.law in ("duct", "plate") else []
    for key in dict.fromkeys(needs):
        if getattr(airway, key) is None:
            yield (*at, "to"), f"{film.to} has no {key}, which this film needs"


def _sink(spec: Spec, name: str, sink: Sink) -> Iterator[Finding]:
    at: KeyPath = ("sink", name)
    finned = given(sink, FINS)
    if sink.resistance is not None and finned:
        yield (*at, finned[0]), "give either a measured resistance or fins, not both"
    elif sink.resistance is None and not finned:
        yield at, "give a measured resistance with at_flow and exponent, or the fins"
    if sink.upright and not finned:
        yield (*at, "upright"), "goes with fins; of a measured sink give still"
    for key in FINS if finned else ("at_flow", "exponent") if sink.resistance is not None else ():
        if getattr(sink, key) is None:
            yield missing(at, key, "fins need it" if finned else "a measured resistance needs it")
    if len(finned) == len(FINS):
        yield from _fins_fit(spec, sink, at)
    paths: list[Joint | HeatPipe] = [*spec.joint.values(), *spec.heat_pipe.values()]
    if not any(f"sink.{name}" in path.between for path in paths) and find(spec, sink.on):
        yield at, f'no joint holds it to {sink.on}; add one with between = ["{sink.on}", "sink.{name}"]'


def _fins_fit(spec: Spec, sink: Sink, at: KeyPath) -> Iterator[Finding]:
    airway = spec.airway.get(sink.airway)
    if airway is None or sink.base is None or sink.fins is None or sink.fin_thickness is None:
        return
    across = sink.base[1 if airway.direction.endswith("x") else 0]
    if sink.fins * sink.fin_thickness >= across:
        yield (*at, "fins"), f"{sink.fins} fins leave no gaps in a base {1e3 * across:.4g} mm wide"


def _airway(airway: Airway, at: KeyPath) -> Iterator[Finding]:
    if airway.flow is None and not airway.fans and not airway.draught:
        yield at, "nothing moves its air: give fans, a flow or a draught"
    resists = airway.resistance or airway.filter or airway.opening
    if airway.fans and airway.flow is None and not resists:
        yield missing(at, "resistance", "with fans, give a resistance, a filter or openings")


def _edges(spec: Spec) -> Iterator[Finding]:
    for name, edge in spec.edge.items():
        at: KeyPath = ("edge", name)
        ways = given(edge, ("temperature", "heat", "flux"))
        cooled = given(edge, ("h", "emissivity"))
        if not ways and not cooled:
            yield at, "give one of temperature, heat, flux, or h and emissivity"
        if len(ways) + bool(cooled) > 1:
            extra = [*ways, *cooled]
            yield (*at, extra[-1]), f"give only one of {', '.join(extra)}"
        if edge.air is not None and not cooled:
            yield (*at, "air"), "goes with h or emissivity only"


def _measured_blocks(spec: Spec) -> Iterator[Finding]:
    for name, block in spec.block.items():
        for key, other in (("at_flow", "exponent"), ("exponent", "at_flow")):
            if getattr(block, key) is None and getattr(block, other) is not None:
                yield missing(("block", name), key, "at_flow and exponent go together")
    for kind in ("block", "radiator"):
        for name, element in tables(spec, kind).items():
            for key, other in (("drop", "drop_at"), ("drop_at", "drop")):
                if getattr(element, key) is None and getattr(element, other) is not None:
                    yield missing((kind, name), key, "drop and drop_at go together")

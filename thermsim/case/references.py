"""References from one table to another: what they may point to, and whether it is there."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.fields import Table
from thermsim.case.schema import Spec
from thermsim.case.solid import Sheet

SHEETS = ("sheet", "plate")
SOLIDS = ("part", "sheet", "plate", "wall", "sink", "block")
SENSORS = ("part", "probe", "sheet", "plate", "airway", "loop")
LOOP_ELEMENTS = ("plate", "hose", "radiator", "block", "reservoir")
MOVERS = ("fan", "pump")

Mention = tuple[KeyPath, str, tuple[str, ...]]  # where, the address there, the kinds it may be of


def tables(spec: Spec, kind: str) -> Mapping[str, Any]:
    """The named tables of a kind."""
    found: Mapping[str, Any] = getattr(spec, kind)
    return found


def find(spec: Spec, address: str) -> Table | None:
    """The table at an address such as `part.fpga`, if there is one."""
    kind, _, name = address.partition(".")
    if kind not in (*SOLIDS, *SENSORS, *LOOP_ELEMENTS, *MOVERS, "film", "edge", "mishap"):
        return None
    found: Table | None = tables(spec, kind).get(name)
    return found


def sheet_at(spec: Spec, address: str) -> Sheet | None:
    """The sheet or plate at an address, if there is one."""
    found = find(spec, address)
    return found if isinstance(found, Sheet) else None


def wrong_reference(spec: Spec, address: str, kinds: Sequence[str]) -> str | None:
    """What is wrong with a reference that should point to something of these kinds; None if nothing is."""
    kind, dot, name = address.partition(".")
    expected = _either(kinds)
    if not dot:
        known = [f"{one}.{its_name}" for one in kinds for its_name in tables(spec, one)]
        same = [full for full in known if full.partition(".")[2] == address]
        hint = f'; did you mean "{same[0]}"?' if same else nearest(address, known)
        return f'"{address}" is not an address; expected {expected}{hint}'
    if kind not in kinds:
        what = f"is a {kind.replace('_', ' ')}" if find(spec, address) else "is nothing known here"
        return f'"{address}" {what}; expected {expected}'
    if name not in tables(spec, kind):
        known = [f"{one}.{its_name}" for one in kinds for its_name in tables(spec, one)]
        return f'there is no {kind} "{name}"{nearest(address, known)}'
    return None


def _either(kinds: Sequence[str]) -> str:
    names = [f"{kind}.name" for kind in kinds]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def check_references(spec: Spec, happening: Sequence[str]) -> Iterator[Finding]:
    """Every reference points to something there, of a kind that fits."""
    for path, address, kinds in _mentions(spec):
        message = wrong_reference(spec, address, kinds)
        if message:
            yield path, message
    yield from _mishap_references(spec, happening)
    for name, option in spec.option.items():
        for number, mishap in enumerate(option.mishaps):
            if mishap not in spec.mishap and f"mishap.{mishap}" not in added_by_options(spec):
                path = ("option", name, "mishaps", number)
                yield path, f'there is no mishap "{mishap}"{nearest(mishap, spec.mishap)}'


def _mentions(spec: Spec) -> Iterator[Mention]:
    yield from _solid_mentions(spec)
    yield from _air_mentions(spec)
    for name, loop in spec.loop.items():
        yield ("loop", name, "pump"), loop.pump, ("pump",)
        for where, address in loop_elements(loop.path):
            yield ("loop", name, "path", *where), address, LOOP_ELEMENTS
    for name, governor in spec.governor.items():
        yield ("governor", name, "sensor"), governor.sensor, SENSORS
        for number, address in enumerate(governor.drives):
            yield ("governor", name, "drives", number), address, MOVERS


def _solid_mentions(spec: Spec) -> Iterator[Mention]:
    for name, part in spec.part.items():
        if part.on is not None:
            yield ("part", name, "on"), part.on, SHEETS
    for kind, kinds in (("joint", SOLIDS), ("heat_pipe", SOLIDS), ("radiation", SHEETS)):
        for name, path in tables(spec, kind).items():
            for number, address in enumerate(path.between):
                yield (kind, name, "between", number), address, kinds
    for name, wall in spec.wall.items():
        for number, address in enumerate(wall.joins):
            yield ("wall", name, "joins", number), address, SHEETS
    for name, edge in spec.edge.items():
        yield ("edge", name, "on"), edge.on, SHEETS
    for kind in ("source", "probe"):
        for name, table in tables(spec, kind).items():
            yield (kind, name, "on"), table.on, SHEETS
    for name, film in spec.film.items():
        yield ("film", name, "on"), film.on, ("sheet", "plate", "wall", "part")


def _air_mentions(spec: Spec) -> Iterator[Mention]:
    for name, film in spec.film.items():
        if film.to != "room":
            yield ("film", name, "to"), film.to, ("airway",)
    for name, sink in spec.sink.items():
        yield ("sink", name, "on"), sink.on, ("part",)
    for kind in ("sink", "radiator"):
        for name, exchanger in tables(spec, kind).items():
            yield (kind, name, "airway"), f"airway.{exchanger.airway}", ("airway",)
    for name, airway in spec.airway.items():
        if isinstance(airway.inlet, str) and airway.inlet != "room":
            yield ("airway", name, "inlet"), airway.inlet, ("airway",)
        for number, address in enumerate(airway.fans):
            yield ("airway", name, "fans", number), address, ("fan",)


def loop_elements(path: Sequence[Any], at: KeyPath = ()) -> Iterator[tuple[KeyPath, str]]:
    """The elements of a loop's path with where in it they stand, branches and all."""
    for number, item in enumerate(path):
        if isinstance(item, str):
            yield (*at, number), item
        elif isinstance(item, list | tuple):
            yield from loop_elements(item, (*at, number))


def added_by_options(spec: Spec) -> set[str]:
    """Addresses of all that any option adds."""
    added = [(kind, named) for option in spec.option.values() for kind, named in option.add.items()]
    # what is no table is refused once that option is asked for
    return {f"{kind}.{name}" for kind, named in added if isinstance(named, dict) for name in named}


def _mishap_references(spec: Spec, happening: Sequence[str]) -> Iterator[Finding]:
    """A mishap that does not happen here may be about things that only some options have."""
    elsewhere = added_by_options(spec) | {address for option in spec.option.values() for address in option.remove}
    for name, mishap in spec.mishap.items():
        at: KeyPath = ("mishap", name)
        mentions: list[Mention] = [
            ((*at, "stops", number), address, MOVERS) for number, address in enumerate(mishap.stops)
        ]
        mentions += [
            ((*at, "airlock", number), element, LOOP_ELEMENTS) for number, element in enumerate(mishap.airlock)
        ]
        mentions += [((*at, "coolant_lost", loop), f"loop.{loop}", ("loop",)) for loop in mishap.coolant_lost]
        mentions += [((*at, "blocks", airway), f"airway.{airway}", ("airway",)) for airway in mishap.blocks]
        for path, address, kinds in mentions:
            message = wrong_reference(spec, address, kinds)
            if message and (name in happening or address not in elsewhere):
                yield path, message

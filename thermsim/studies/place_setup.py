"""What a search for a plate's place starts from: the option's case, its plates, rules and lattice, all checked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.geometry import Rectangle, outline, rectangle
from thermsim.case.placing import SAME, Place
from thermsim.case.schema import Spec
from thermsim.model.operating import Conditions
from thermsim.physics.ducts import reynolds, round_duct
from thermsim.physics.losses import bend_loss
from thermsim.studies.frozen import frozen, is_governed
from thermsim.studies.place_layouts import Layout, NoRoom, Pair, drawn, layout
from thermsim.studies.place_rules import Rules, Verdict, beside, seats_of
from thermsim.studies.place_spot import Spot, lattice
from thermsim.studies.place_tables import NOT_OF_THE_STATE, SECOND, Plumbing, Raw, hoses_about
from thermsim.studies.settled import Settled, Settler

MOST_POSITIONS = 50_000


def wrong(case: Case, key: str, message: str) -> CaseError:
    """What is wrong with a setting of the search, with file and line."""
    return CaseError([case.problem(("place", *key.split(".")) if key else ("place",), message)])


@dataclass(frozen=True)
class Candidate:
    """A plate of the search by name, with its size in its own frame, its channel and its rules."""

    plate: str
    size: Pair
    layout: Layout
    rules: Rules


@dataclass(frozen=True)
class Search:
    """One search: `case` is the option's, its governors taken out at the speeds where it settles (`now`)."""

    case: Case
    live: Case
    now: Settled
    place: Place
    on: str
    loop: str
    region: Rectangle
    first: Candidate
    second: Candidate | None
    plumbing: Plumbing | None

    @property
    def spec(self) -> Spec:
        """Of the case that is searched."""
        return self.case.spec

    def tables(self) -> Raw:
        """The searched case as plain tables, without what may speak of joints that are made anew."""
        return {kind: named for kind, named in self.case.resolved().items() if kind not in NOT_OF_THE_STATE}

    def spots(self, which: Candidate) -> list[Spot]:
        """Every position of a plate, lying along x, then along y."""
        turns = (0, 90) if self.place.rotations else (0,)
        return [spot for turn in turns for spot in lattice(self.region, which.size, turn, self.place.pitch)]

    def verdicts(self, which: Candidate) -> list[Verdict]:
        """Every position judged."""
        return [which.rules.best(spot) for spot in self.spots(which)]

    def as_drawn(self) -> Verdict | None:
        """The place the plate has in the case by the rules of the search; None if another size is searched."""
        plate = self.spec.plate[self.first.plate]
        if self.place.layout != "as drawn":
            return None
        return self.first.rules.judge(Spot(plate.corner, 0, plate.size))


def search_of(case: Case, settler: Settler | None = None) -> Search:
    """Read `[place]` of a case and settle its option as drawn. Raises `CaseError`."""
    place = case.spec.place
    if place is None:
        example = '[place]\n  option = "…"\n  plate = "plate.main"\n  pitch = "10 mm"'
        raise CaseError([case.problem(("place",), f"there is no [place] to search by; for example\n  {example}")])
    name = None if place.option in (None, "base") else place.option
    live = case.with_option(name)
    place = live.spec.place or place
    plate = place.plate.removeprefix("plate.")
    if plate not in live.spec.plate:
        raise wrong(case, "plate", f'option "{name or "base"}" has no {place.plate}')
    loop = _loop_of(case, live, plate)
    on = _sheet(case, live, place, plate)
    _heights(case, live, on)
    if all(part.limit is None for part in live.spec.part.values()):
        raise CaseError([case.problem(("part",), "no part has a limit; positions are told apart by their margins")])
    now = (settler or Settler()).settle(live)
    held = frozen(live, now.speeds) if is_governed(live) else live
    spec = held.spec
    plumbing = _plumbing(case, spec, place, loop, plate, now.steady.conditions)
    second = None if place.second is None else _second(case, spec, place)
    names = (plate,) if second in (None, SECOND) else (plate, second)
    first = _candidate(case, spec, place, on, plate, names, plumbing)
    other = None
    if second is not None:
        own = second != SECOND
        other = _candidate(case, spec, place, on, second, names, plumbing) if own else replace(first, plate=SECOND)
    found = Search(held, live, now, place, on, loop, _region(spec, place, on), first, other, plumbing)
    _positions(case, found)
    return found


def _loop_of(case: Case, live: Case, plate: str) -> str:
    from thermsim.studies.place_tables import flat

    def items(path: Any) -> list[str]:
        return flat(_lists(path))

    for name, loop in live.spec.loop.items():
        if f"plate.{plate}" in items(loop.path):
            _apart(case, live, items(loop.path))
            return name
    raise wrong(case, "plate", f"no loop of the option leads through plate.{plate}")


def _lists(path: Any) -> Any:
    return [_lists(item) if isinstance(item, tuple | list) else item for item in path]


def _apart(case: Case, live: Case, elements: list[str]) -> None:
    """The loop's heat must leave outside the box: its radiators' air comes from nowhere the parts warm."""
    for element in elements:
        if element.startswith("radiator."):
            airway = live.spec.airway[live.spec.radiator[element.removeprefix("radiator.")].airway]
            if airway.corner is not None or str(airway.inlet).startswith("airway."):
                raise wrong(
                    case, "option",
                    f"the search cannot tell what {element} does to the box's own air; it must have air of its own",
                )  # fmt: skip


def _sheet(case: Case, live: Case, place: Place, plate: str) -> str:
    spec = live.spec
    if place.on is not None:
        if place.on.removeprefix("sheet.") not in spec.sheet:
            raise wrong(case, "on", f"the option has no {place.on}")
        return place.on
    joined = [end for joint in spec.joint.values() if f"plate.{plate}" in joint.between for end in joint.between]
    sheets = [spec.part[end[5:]].on for end in joined if end.startswith("part.")]
    known = [sheet for sheet in sheets if sheet is not None]
    if not known:
        raise wrong(case, "on", f"missing: plate.{plate} is joined to no part that tells which sheet is meant")
    return max(set(known), key=known.count)


def _heights(case: Case, live: Case, on: str) -> None:
    lacking = [name for name, part in live.spec.part.items() if part.on == on and part.height is None]
    if lacking:
        raise CaseError(
            [case.problem(("part", name), 'height missing; the search needs it, for example height = "2 mm"')
             for name in lacking]
        )  # fmt: skip


def _second(case: Case, spec: Spec, place: Place) -> str:
    assert place.second is not None
    if place.second == SAME:
        return SECOND
    name = place.second.removeprefix("plate.")
    if name not in spec.plate or place.second == place.plate:
        raise wrong(case, "second", f'must be "{SAME}" or another plate of the option; got "{place.second}"')
    return name


def _plumbing(
    case: Case, spec: Spec, place: Place, loop: str, plate: str, conditions: Conditions
) -> Plumbing | None:  # fmt: skip
    """None where hoses are not looked at."""
    if place.hose is None:
        return None
    names = [name for name in hoses_about(_lists(spec.loop[loop].path), plate) if name is not None]
    bore = spec.hose[names[0]].bore if names else 2 / 3 * place.hose.outer  # common proportions, no source
    rules_radius = _radius(case, place, bore)
    point = conditions.loops[loop]
    flow = point.flows.get(f"plate.{plate}", 0.0)
    re = reynolds(round_duct(bore), max(flow, 1e-9), point.liquid.density, point.liquid.viscosity)
    bend = bend_loss(re, bore, rules_radius).value
    return Plumbing(bore, bend, place.hose.barb_length + rules_radius)


def _radius(case: Case, place: Place, bore: float) -> float:
    from thermsim.studies.place_hoses import least_bend_radius

    assert place.hose is not None
    try:
        return least_bend_radius(place.hose, bore)
    except ValueError as error:
        raise wrong(case, "hose", str(error)) from None


def _candidate(
    case: Case, spec: Spec, place: Place, on: str, name: str, plates: tuple[str, ...], plumbing: Plumbing | None
) -> Candidate:
    source = place.plate.removeprefix("plate.") if name == SECOND else name
    plate = spec.plate[source]
    if plate.patch or plate.cutout or plate.conductivity_y is not None:
        raise wrong(case, "plate", f"plate.{source} has patches, cutouts or a grain and cannot be moved about")
    own = name == place.plate.removeprefix("plate.")
    size = place.size if place.size is not None and own else plate.size
    channel = plate.channel
    if place.layout == "as drawn" or not own:
        grooves = [tuple((x - plate.corner[0], y - plate.corner[1]) for x, y in path) for path in channel.grooves]
        found = drawn(plate.size, grooves)
    else:
        try:
            found = layout(place.layout, size, place.passes, channel.width, place.wall_to_channel)
        except NoRoom as error:
            raise wrong(case, "passes", str(error)) from None
    seats = seats_of(spec, on, tuple(f"plate.{one}" for one in plates))
    lies = any(
        f"plate.{source}" in joint.between and not any(end.startswith("part.") for end in joint.between)
        for joint in spec.joint.values()
    )
    bore = None if plumbing is None else plumbing.bore
    return Candidate(
        name, size, found, Rules(spec, place, seats, plate.thickness, channel.width, found, bore, lies, beside(spec))
    )


def _region(spec: Spec, place: Place, on: str) -> Rectangle:
    if place.region is not None:
        return rectangle(place.region.corner, place.region.size)
    return outline(spec.sheet[on.removeprefix("sheet.")])


def _positions(case: Case, search: Search) -> None:
    """Some positions, and not too many, before any is judged."""
    region, pitch = search.region, search.place.pitch
    for which in (search.first, search.second):
        if which is None:
            continue
        ways = [which.size, which.size[::-1]] if search.place.rotations else [which.size]
        free = [(region.right - region.left - w, region.back - region.front - d) for w, d in ways]
        count = sum((int(x / pitch) + 1) * (int(y / pitch) + 1) for x, y in free if x >= -1e-9 and y >= -1e-9)
        if count == 0:
            width, depth = (1e3 * value for value in which.size)
            raise wrong(case, "region" if search.place.region else "size",
                        f"a plate of {width:.4g} x {depth:.4g} mm does not fit the region, {region}")  # fmt: skip
        if count > MOST_POSITIONS:
            raise wrong(case, "pitch", f"gives {count:,} positions, more than {MOST_POSITIONS:,}; use a larger one")

"""What a search for a plate's place starts from: the option's case, its plates, rules and lattice, all checked."""

from __future__ import annotations

from dataclasses import dataclass, replace

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.placing import SAME, Place
from thermsim.case.rectangles import Rectangle, outline, rectangle
from thermsim.case.schema import Spec
from thermsim.studies.frozen import frozen, is_governed
from thermsim.studies.place.candidate import Candidate, candidate, lists, plumbing_of, wrong
from thermsim.studies.place.laid import Raw, flat
from thermsim.studies.place.plumbing import Plumbing
from thermsim.studies.place.rules import Verdict
from thermsim.studies.place.spot import Spot, lattice
from thermsim.studies.place.tables import NOT_OF_THE_STATE, SECOND, without_plate
from thermsim.studies.settled import Settled, Settler

MOST_POSITIONS = 50_000


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

    def alone(self) -> Raw:
        """The same without the second plate, if the case has one: what a single plate does is told without it."""
        if self.second is None or self.second.plate == SECOND:
            return self.tables()
        return without_plate(self.tables(), self.second.plate)

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
    if live.mishaps:
        raise wrong(case, "option", f'option "{name}" is a mishap; name the option without it')
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
    plumbing = plumbing_of(case, spec, place, loop, plate, now.steady.conditions)
    second = None if place.second is None else _second(case, spec, place)
    names = (plate,) if second in (None, SECOND) else (plate, second)
    first = candidate(case, spec, place, on, plate, names, plumbing)
    other = None
    if second is not None:
        own = second != SECOND
        other = candidate(case, spec, place, on, second, names, plumbing) if own else replace(first, plate=SECOND)
    found = Search(held, live, now, place, on, loop, _region(spec, place, on), first, other, plumbing)
    _positions(case, found)
    return found


def _loop_of(case: Case, live: Case, plate: str) -> str:
    for name, loop in live.spec.loop.items():
        elements = flat(lists(loop.path))
        if f"plate.{plate}" in elements:
            _apart(case, live, elements)
            return name
    raise wrong(case, "plate", f"no loop of the option leads through plate.{plate}")


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

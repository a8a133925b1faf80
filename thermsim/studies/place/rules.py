"""May a plate lie there? Keep-outs, screws, heights, what carries it, hoses; and which parts it touches, how well."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot

from thermsim.case.placing import Place
from thermsim.case.rectangles import Rectangle, rectangle
from thermsim.case.schema import Spec
from thermsim.physics.joints import joint_resistivity
from thermsim.studies.place.hoses import Box, Route, least_bend_radius, way_out
from thermsim.studies.place.layouts import Layout
from thermsim.studies.place.seats import Seat, inside_of
from thermsim.studies.place.spot import Pair, Spot

SLIVER = 1e-9  # m², no overlap at all


@dataclass(frozen=True)
class Contact:
    """A joint between plate and part: what of its top is covered, the gap (0: paste) and resistance over unit area."""

    part: str
    area: Rectangle
    gap: float
    resistivity: float


@dataclass(frozen=True)
class Verdict:
    """A spot, why it is not allowed (nothing if it is), and how the plate would sit there."""

    spot: Spot
    why: tuple[str, ...]
    contacts: tuple[Contact, ...] = ()
    underside: float = 0.0
    hoses: tuple[Route, ...] = ()

    @property
    def allowed(self) -> bool:
        """Whether no rule is broken."""
        return not self.why

    @property
    def hose_length(self) -> float:
        """From rim to wall, of all hoses, m."""
        return sum(route.length for route in self.hoses)

    @property
    def rests_on(self) -> list[str]:
        """Parts that carry it through paste."""
        return [contact.part for contact in self.contacts if contact.gap == 0]


@dataclass
class Rules:
    """The rules of one search; `judge` is asked for every spot."""

    spec: Spec
    place: Place
    seats: list[Seat]
    thickness: float
    groove: float  # width, m
    layout: Layout
    bore: float | None = None
    lies: bool = False  # on a sheet, by a joint of its own: it need touch no part
    beside: dict[str, Rectangle] = field(default_factory=dict)  # what stands in the box but not on the sheet
    box: Box = field(init=False)
    radius: float = field(init=False)

    def __post_init__(self) -> None:
        hose = self.place.hose
        self.box = Box(inside_of(self.spec), hose.exits if hose else ())
        self.radius = least_bend_radius(hose, self.bore) if hose else 0.0

    def best(self, spot: Spot) -> Verdict:
        """The better of a spot and the same turned about: allowed before not, then the shorter hoses."""
        about = Spot(spot.corner, (spot.turn + 180) % 360, spot.size)
        return min((self.judge(spot), self.judge(about)), key=lambda one: (len(one.why), one.hose_length))

    def judge(self, spot: Spot) -> Verdict:
        """Every rule at one spot."""
        why: list[str] = []
        under = [(seat, spot.outline.common(seat.area)) for seat in self.seats]
        met = [(seat, area) for seat, area in under if area is not None and area.area > SLIVER]
        why += [f"{seat.crowned} stands on {seat.name}" for seat, _ in met if seat.crowned]
        underside = max((seat.height for seat, _ in met), default=0.0)
        contacts = self._contacts(met, underside, why)
        if not contacts and not why and not self.lies:
            why.append("touches no part")
        self._stack(spot, underside, why)
        why += self._screws(spot)
        hoses = self._hoses(spot, underside, why)
        return Verdict(spot, tuple(dict.fromkeys(why)), tuple(contacts), underside, hoses)

    def _contacts(self, met: list[tuple[Seat, Rectangle]], underside: float, why: list[str]) -> list[Contact]:
        found, pad = [], self.place.pad
        for seat, area in met:
            gap, share = underside - seat.height, area.area / seat.area.area
            enough = share >= self.place.least_overlap - 1e-9
            if gap == 0 and not enough:
                why.append(f"would rest on the rim of {seat.name}")
            elif not enough:
                continue
            elif gap <= self.place.paste_gap:
                found.append(Contact(seat.name, area, 0.0, self.place.paste))
            elif pad is None or gap > pad.thickness_max + 1e-9:
                continue  # too low to be touched
            elif gap < pad.thickness_min - 1e-9:
                why.append(f"gap over {seat.name} too small for a pad, too large for paste")
            else:
                resistivity = joint_resistivity(gap, pad.conductivity, pad.contact)
                found.append(Contact(seat.name, area, gap, resistivity))
        return found

    def _stack(self, spot: Spot, underside: float, why: list[str]) -> None:
        """Heights, keep-outs, the box."""
        for name, keep in self.spec.keep_out.items():
            higher = keep.height is None or keep.height > underside + 1e-9
            if higher and spot.outline.common(rectangle(keep.corner, keep.size)):
                why.append(f"keep-out {name}")
        why += [f"{name} stands there" for name, area in self.beside.items() if spot.outline.common(area)]
        clearance = self.place.clearance
        if clearance is not None and underside + self.thickness > clearance + 1e-9:
            why.append("too high for the clearance")
        if not self.box.inside.holds(spot.outline):
            why.append("outside the box")

    def _screws(self, spot: Spot) -> list[str]:
        found = []
        for name, screw in self.spec.screw.items():
            own = spot.to_own(screw.at)
            ring = screw.ring / 2
            apart = _outside_by(own, spot.size)
            if apart >= ring:
                continue
            inset = min(own[0], own[1], spot.size[0] - own[0], spot.size[1] - own[1])
            if inset < ring - 1e-9:
                found.append(f"its rim cuts the ring of screw {name}")
            elif self._to_channel(own) < screw.hole / 2 + self.place.wall_to_channel + self.groove / 2 - 1e-9:
                found.append(f"the hole for screw {name} comes too near to the channel")
        return found

    def _to_channel(self, own: Pair) -> float:
        """Distance from a point to the middle of the nearest groove, m."""
        return min(_to_segment(own, a, b) for groove in self.layout.grooves for a, b in pairwise(groove))

    def _hoses(self, spot: Spot, underside: float, why: list[str]) -> tuple[Route, ...]:
        hose = self.place.hose
        if hose is None:
            return ()
        bottom = underside + self.thickness / 2 - hose.outer / 2
        obstacles = [
            rectangle(keep.corner, keep.size)
            for keep in self.spec.keep_out.values()
            if keep.height is None or keep.height > bottom
        ]
        obstacles += self.beside.values()
        obstacles += [seat.area for seat in self.seats if seat.height > bottom or seat.crowned]
        found = []
        for name, mouth in (("inlet", self.layout.inlet), ("outlet", self.layout.outlet)):
            route, reason = way_out(spot, mouth, hose, self.radius, self.box, obstacles)
            if route is None:
                why.append(f"{name} hose: {reason}")
            else:
                found.append(route)
        if len(found) == 2 and found[0].zone.common(found[1].zone):
            why.append("the two hoses would lie in one place")
        return tuple(found)


def _outside_by(own: Pair, size: Pair) -> float:
    """Distance of a point from a rectangle at the origin, 0 inside."""
    return hypot(max(-own[0], 0.0, own[0] - size[0]), max(-own[1], 0.0, own[1] - size[1]))


def _to_segment(point: Pair, a: Pair, b: Pair) -> float:
    along = (b[0] - a[0], b[1] - a[1])
    square = along[0] ** 2 + along[1] ** 2
    t = ((point[0] - a[0]) * along[0] + (point[1] - a[1]) * along[1]) / square if square else 0.0
    t = min(max(t, 0.0), 1.0)
    return hypot(point[0] - a[0] - t * along[0], point[1] - a[1] - t * along[1])

"""Films: faces of sheets, walls and parts against the air, and their radiation to the room."""

from collections.abc import Callable
from math import copysign

import numpy as np

from thermsim.case.solid import Film
from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import Law, Mean
from thermsim.model.operating import Conditions
from thermsim.model.radiating import radiating
from thermsim.model.site import AirStream, Ends, Site
from thermsim.physics.films import duct_film, flat_plate, natural_film

LEAST_RISE = 0.01  # K; with no difference at all a level face has no film, and heat would have no way out


def add_films(site: Site) -> None:
    """A convection group per film, and a radiation group where an emissivity is stated."""
    for name, film in site.spec.film.items():
        ends = site.ends(film.on, film.corner, film.size)
        air = _air_nodes(site, name, film, ends)
        site.builder.link(f"film.{name}", "film", ends.node, air, ends.area, law=_law(site, film, ends, air))
        if film.emissivity is not None:
            _radiate(site, name, film, ends)


def _air_nodes(site: Site, name: str, film: Film, ends: Ends) -> Ints:
    """The air each node of the face sees."""
    if film.air is not None:
        return np.full(ends.node.size, site.builder.place(f"film.{name}.air"))
    if film.to == "room":
        return np.full(ends.node.size, site.builder.place("room"))
    stream = site.streams[film.to.removeprefix("airway.")]
    if film.on in site.sheets:
        sheet = site.sheets[film.on]
        x, y = np.meshgrid(*sheet.centres)
        where = sheet.inside(film.corner, film.size)
        return stream.node_at(x[where], y[where])
    footprint = site.footprint(film.on) if film.on.startswith("part.") else None
    if footprint is None:
        return stream.node_along(np.full(ends.node.size, _position(site, film.on, stream)))
    (x0, y0), (width, depth) = footprint
    return stream.node_at(np.array([x0 + width / 2]), np.array([y0 + depth / 2]))


def _position(site: Site, address: str, stream: AirStream) -> float:
    """Where along the stream a wall lies: the ends touch the first or last air, the sides its middle."""
    low, high = (("left", "right"), ("front", "back"))[stream.axis]
    wall = site.spec.wall.get(address.removeprefix("wall."))
    at = {low: 0.0, high: 1.0}.get(wall.side, 0.5) if wall else 0.5  # a part that stands nowhere: the middle
    return 1.0 - at if stream.reversed else at


def _law(site: Site, film: Film, ends: Ends, air: Ints) -> Law:
    """The film coefficient in series with half the sheet's thickness, W/m²K."""
    coefficient = _coefficient(site, film)
    means: tuple[Mean, ...] = ()
    if film.law == "natural":
        means = (Mean(air, ends.share), Mean(ends.node, ends.share))
    if np.ptp(ends.half) == 0:
        depth = float(ends.half[0])
        return Law(lambda now, *read: _in_series(coefficient(now, *read), depth), means)
    return Law(lambda now, *read: _in_series(coefficient(now, *read[:-1]), read[-1]), means, given=(ends.half,))


def _in_series(h: float, half: float | Floats) -> float | Floats:
    return h / (1.0 + h * half)


def _coefficient(site: Site, film: Film) -> Callable[..., float]:
    airway = film.to.removeprefix("airway.")
    if film.law == "fixed":
        fixed = film.h or 0.0
        return lambda now: fixed
    if film.law == "scaled":
        assert film.h is not None  # the case was checked
        assert film.at_flow is not None
        h, at_flow, exponent, still = film.h, film.at_flow, film.exponent or 0.0, film.still or 0.0
        return lambda now: max(h * (now.air[airway].flow / at_flow) ** exponent, still)
    if film.law == "natural":
        assert film.orientation is not None
        assert film.length is not None
        orientation, length = film.orientation, film.length

        def natural(now: Conditions, around: float, face: float) -> float:
            rise = face - around
            surface = around + copysign(max(abs(rise), LEAST_RISE), rise)
            return float(natural_film(orientation, surface, around, length, now.pressure))

        return natural
    return _forced(site, film, airway)


def _forced(site: Site, film: Film, airway: str) -> Callable[[Conditions], float]:
    way = site.spec.airway[airway]
    assert way.size is not None
    assert way.height is not None
    axis = 0 if way.direction.endswith("x") else 1
    height, length, width = way.height, film.length or way.size[axis], way.size[1 - axis]
    still = film.still or 0.0

    def forced(now: Conditions) -> float:
        air = now.air[airway]
        velocity = air.flow / (height * width)
        if velocity <= 0:
            return still
        if film.law == "duct":
            found = duct_film(velocity, height, width, length, air.state)
        else:
            found = flat_plate(velocity, length, air.state)
        now.used.add((f"film.{film.on} to {film.to}", found.name, found.regime))
        return max(found.value, still)

    return forced


def _radiate(site: Site, name: str, film: Film, ends: Ends) -> None:
    room = site.builder.place("room" if film.air is None else f"film.{name}.air")
    surroundings = np.full(ends.node.size, room)
    law = radiating(film.emissivity or 0.0, ends.node, surroundings)
    site.builder.link(f"film.{name} radiation", "radiation", ends.node, surroundings, ends.area, law=law)

"""Airways: air marches from inlet to outlet and warms; sinks hand it their heat."""

from collections.abc import Callable

import numpy as np

from thermsim.case.flow import Airway, Sink
from thermsim.model.links import Floats, Law
from thermsim.model.operating import MINIMUM_STREAM, Conditions
from thermsim.model.site import AirStream, Site
from thermsim.physics.air import dry_air
from thermsim.physics.fins import plate_fin_film, plate_fin_sink

MOVING_VOLUME = 1e-3  # m³, air of an airway whose passage is not drawn


def add_airways(site: Site) -> None:
    """A chain of air nodes per airway, fed from the room, a stated inlet or another airway's outlet.

    An airway that `returns` its air shares the nodes of the one it draws from: its fan only stirs.
    """
    waiting = dict(site.spec.airway)
    while waiting:
        ready = [name for name, way in waiting.items() if _upstream(way) not in waiting]
        if not ready:
            raise ValueError(f"airways feed each other in a circle: {', '.join(waiting)}")
        for name in ready:
            _add_airway(site, name, waiting.pop(name))


def _upstream(way: Airway) -> str | None:
    return way.inlet.removeprefix("airway.") if isinstance(way.inlet, str) and way.inlet != "room" else None


def _add_airway(site: Site, name: str, way: Airway) -> None:
    upstream = _upstream(way)
    if upstream is not None and way.returns:  # it has a flow of its own and no air of its own
        site.streams[name], site.chains[name] = site.streams[upstream], site.chains[upstream]
        site.builder.names[f"airway.{name}"] = site.builder.names[f"airway.{upstream}"]
        return
    if upstream is not None:
        feed = site.streams[upstream].outlet
    else:
        feed = site.builder.place("room" if way.inlet == "room" else f"airway.{name}.inlet")
    radiators = [r for r in site.spec.radiator.values() if r.airway.removeprefix("airway.") == name]
    drawn = way.corner is not None and way.size is not None
    before = sum(r.place == "inlet" for r in radiators) if drawn else 0
    count = way.segments if drawn else max(1, len(radiators))
    after = sum(r.place == "outlet" for r in radiators) if drawn else 0
    volume = MOVING_VOLUME
    axis = 0 if way.direction.endswith("x") else 1
    start, length = 0.0, 1.0
    if way.corner is not None and way.size is not None:
        start, length = way.corner[axis], way.size[axis]
        volume = way.size[0] * way.size[1] * (way.height or 0.05)
    air = dry_air(site.spec.room.temperature, site.pressure)
    total = before + count + after
    chain = site.builder.add_nodes(
        f"airway.{name}", np.full(total, air.density * air.cp * volume / total)
    )
    site.builder.link(
        f"airway.{name}", "stream", chain, np.r_[feed, chain[:-1]], 1.0, mutual=False, law=stream(name)
    )
    site.streams[name] = AirStream(
        feed, chain[before : before + count] if drawn else chain, start, length, axis, way.direction[0] == "-"
    )
    site.chains[name] = np.r_[feed, chain]


def stream(airway: str) -> Law:
    """Heat capacity rate of an airway, W/K."""
    return lambda now: max(now.air[airway].capacity_rate, MINIMUM_STREAM)


def add_sinks(site: Site) -> None:
    """A node per sink and its film to the air over it."""
    for name, sink in site.spec.sink.items():
        node = site.builder.add_node(f"sink.{name}", sink.heat_capacity or 0.0)
        airway = sink.airway.removeprefix("airway.")
        stream_ = site.streams[airway]
        footprint = site.footprint(sink.on)
        if sink.along is not None:
            air = stream_.node_along(np.array([sink.along]))
        elif footprint is not None:
            (x, y), (width, depth) = footprint
            air = stream_.node_at(np.array([x + width / 2]), np.array([y + depth / 2]))
        else:
            air = stream_.node_along(np.array([0.5]))
        conductance = measured(sink, airway) if sink.resistance is not None else finned(site, name, sink)
        site.builder.link(f"sink.{name}", "film", [node], air, 1.0, law=conductance)


def measured(sink: Sink, airway: str) -> Law:
    """A sink's conductance from its measured resistance, moving with flow; never under its still value."""
    assert sink.resistance is not None
    base, at_flow, exponent = 1 / sink.resistance, sink.at_flow, sink.exponent or 0.0
    still = 1 / sink.still if sink.still else 0.0
    if at_flow is None:
        return lambda now: base
    rated = at_flow
    return lambda now: max(base * (now.air[airway].flow / rated) ** exponent, still)


def finned(site: Site, name: str, sink: Sink) -> Callable[[Conditions], float | Floats]:
    """A sink's conductance from its fins: film in the gaps, fin efficiency, bare base."""
    airway = sink.airway.removeprefix("airway.")
    assert sink.base is not None
    assert sink.fins is not None
    assert sink.fin_height is not None
    assert sink.fin_thickness is not None
    assert sink.conductivity is not None
    along, across = sink.base if site.streams[airway].axis == 0 else (sink.base[1], sink.base[0])
    fins, height, thickness, k = sink.fins, sink.fin_height, sink.fin_thickness, sink.conductivity
    gap = (across - fins * thickness) / (fins - 1)
    still = 1 / sink.still if sink.still else 0.0
    share = sink.flow_share

    def law(now: Conditions) -> float:
        air = now.air[airway]
        velocity = share * air.flow / ((fins - 1) * gap * height)
        if velocity <= 0:
            return still
        film = plate_fin_film(velocity, gap, height, along, air.state)
        now.used.add((f"sink.{name}", film.name, film.regime))
        return max(1 / plate_fin_sink(across, along, fins, height, thickness, k, film.value), still)

    return law

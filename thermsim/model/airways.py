"""Airways: air marches from inlet to outlet and warms."""

import numpy as np

from thermsim.case.flow import Airway
from thermsim.model.links import Formula
from thermsim.model.operating import MINIMUM_STREAM
from thermsim.model.site import AirStream, Site
from thermsim.physics.air import dry_air

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
    # the upstream outlet, behind its radiators; or a place of its own though it be the room's air, so that a chilled
    # inlet joins nothing anew
    feed = site.builder.place(f"airway.{name}.inlet") if upstream is None else int(site.chains[upstream][-1])
    radiators = [r for r in site.spec.radiator.values() if r.airway == name]
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
    chain = site.builder.add_nodes(f"airway.{name}", np.full(total, air.density * air.cp * volume / total))
    site.builder.link(f"airway.{name}", "stream", chain, np.r_[feed, chain[:-1]], 1.0, mutual=False, law=stream(name))
    site.streams[name] = AirStream(
        feed, chain[before : before + count] if drawn else chain, start, length, axis, way.direction[0] == "-"
    )
    site.chains[name] = np.r_[feed, chain]


def stream(airway: str) -> Formula:
    """Heat capacity rate of an airway, W/K."""
    return lambda now: max(now.air[airway].capacity_rate, MINIMUM_STREAM)

"""What a sweep of the inlet asks of a case: airways to chill, the ends of the sweep, checks of `[chill]`."""

from collections.abc import Iterator

from thermsim.case.errors import Finding, nearest
from thermsim.case.references import added_by_options
from thermsim.case.schema import Spec

LOW_DEGC = 5.0  # the coldest inlet unless stated
BELOW_ROOM = 15.0  # K at least, in its place where the room is cold
POSSIBLE_DEGC = (-60.0, 120.0)  # of an inlet
ABOVE_ROOM = 8.0  # K, the warmest inlet unless stated


def chill_ends(spec: Spec) -> tuple[float, float]:
    """Lowest and highest inlet of the sweep, °C."""
    room, low, high = spec.room.temperature, spec.chill.low, spec.chill.high
    return min(LOW_DEGC, room - BELOW_ROOM) if low is None else low, room + ABOVE_ROOM if high is None else high


def cooling_airways(spec: Spec) -> list[str]:
    """Airways that take air from outside the box and cool something in it, the one that cools most things first.

    An airway that only feeds a radiator is not among them.
    """
    films = [film.to.removeprefix("airway.") for film in spec.film.values()]
    cooled = films + [sink.airway for sink in spec.sink.values()]
    fed = [name for name, way in spec.airway.items() if way.inlet == "room" or not isinstance(way.inlet, str)]
    return sorted((name for name in fed if name in cooled), key=lambda name: -cooled.count(name))


def airway_to_chill(spec: Spec) -> str | None:
    """The airway as stated, else the one that takes room air and cools most of the box; None if it is not there."""
    stated = spec.chill.airway
    if stated is None:
        return next(iter(cooling_airways(spec)), None)
    return stated if stated in spec.airway else None


def check_chilling(spec: Spec) -> Iterator[Finding]:
    """The airway is there and takes its air from outside; the sweep goes upwards. The room may differ by option."""
    name = spec.chill.airway
    way = None if name is None else spec.airway.get(name)
    if name is not None and way is None and not _comes_or_goes(spec, name):
        fed = cooling_airways(spec)
        hint = nearest(name, spec.airway) or (f"; there is {', '.join(fed)}" if fed else "")
        yield ("chill", "airway"), f'there is no airway "{name}"{hint}'
    if way is not None and isinstance(way.inlet, str) and way.inlet != "room":
        yield ("chill", "airway"), f"airway.{name} takes its air from {way.inlet}; chill that one"
    low, high = spec.chill.low, spec.chill.high
    for key, end in (("low", low), ("high", high)):
        if end is not None and not POSSIBLE_DEGC[0] <= end <= POSSIBLE_DEGC[1]:
            least, most = POSSIBLE_DEGC
            yield ("chill", key), f"must be {least:g} to {most:g} °C; got {end:g} °C"
    if low is not None and high is not None and low >= high:
        yield ("chill", "high"), f"the sweep would go from {low:g} °C to {high:g} °C; low must be below high"


def _comes_or_goes(spec: Spec, name: str) -> bool:
    """Whether an option adds or removes an airway, so that this one may do without it."""
    address = f"airway.{name}"
    return address in added_by_options(spec) or any(address in option.remove for option in spec.option.values())

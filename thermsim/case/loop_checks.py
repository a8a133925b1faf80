"""What a loop's book is asked for, and heat pipes with their wicks: is it stated soundly?"""

from collections.abc import Iterator

from thermsim import units
from thermsim.case.errors import Finding, KeyPath
from thermsim.case.flow import Loop
from thermsim.case.schema import Spec
from thermsim.case.solid import HeatPipe

LENGTHS = ("evaporator", "adiabatic", "condenser")
OF_KIND = {"sinter": ("grain", "porosity"), "mesh": ("wire", "opening")}


def check_loops_and_pipes(spec: Spec) -> Iterator[Finding]:
    """All checks of this module."""
    for name, loop in spec.loop.items():
        yield from _loop(loop, ("loop", name))
    for name, tank in spec.reservoir.items():
        if tank.reserve is not None and tank.reserve > tank.volume:
            held = units.format_quantity(tank.volume, "volume")
            yield ("reservoir", name, "reserve"), f"is more than it holds, {held}"
    for name, pipe in spec.heat_pipe.items():
        yield from _pipe(pipe, ("heat_pipe", name))


def _loop(loop: Loop, at: KeyPath) -> Iterator[Finding]:
    if loop.coldest is not None and loop.hottest is not None and loop.coldest >= loop.hottest:
        yield (*at, "coldest"), f"must be below hottest, {loop.hottest:.1f} °C; got {loop.coldest:.1f} °C"
    if loop.rating is not None and loop.fill_pressure >= loop.rating:
        most = units.format_quantity(loop.rating, "pressure")
        yield (*at, "fill_pressure"), f"must be below the rating, {most}"
    if loop.vented and loop.fill_pressure > 0:
        yield (*at, "fill_pressure"), "a vented loop holds no pressure: leave one of the two out"
    if loop.fill_temperature is not None and not 0 < loop.fill_temperature < 100:
        yield (*at, "fill_temperature"), f"must be between 0 and 100 °C; got {loop.fill_temperature:.1f} °C"


def _pipe(pipe: HeatPipe, at: KeyPath) -> Iterator[Finding]:
    wick = pipe.wick
    if wick is None:
        if pipe.capacity is None:
            yield (*at, "capacity"), 'missing; the maker\'s, for example capacity = "35 W", or a wick to tell it by'
        if pipe.tilt:
            yield (*at, "tilt"), "what tilt costs depends on the wick; give one, or leave the tilt out"
        return
    for key in ("diameter", "wall", *LENGTHS):
        if getattr(pipe, key) is None:
            yield (*at, key), f'missing; a wick needs it, for example {key} = "{units.example("length")}"'
    for kind, keys in OF_KIND.items():
        for key in keys:
            stated = getattr(wick, key) is not None
            if stated != (kind == wick.kind):
                message = f"missing; a {kind} wick has it" if not stated else f"goes with a {kind} wick"
                yield (*at, "wick", key), message
    if wick.porosity is not None and not 0 < wick.porosity < 1:
        yield (*at, "wick", "porosity"), f"must be between 0 and 100 %; got {100 * wick.porosity:g} %"
    if pipe.diameter is not None and pipe.wall is not None and pipe.wall + wick.thickness >= pipe.diameter / 2:
        yield (*at, "wick", "thickness"), "wall and wick leave no room for the vapour"

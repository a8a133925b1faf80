"""Tables of the search for a cold plate's place: what is searched, what is in the way, what fastens."""

from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from thermsim import units
from thermsim.case.fields import (
    Conductivity,
    ContactResistivity,
    Length,
    Names,
    Point,
    PositiveFraction,
    Resistivity,
    Size,
    Table,
)

SIDES = ("left", "right", "front", "back")  # x low, x high, y low, y high
ARRANGEMENTS = ("series", "parallel")
SAME = "same"


def _read_exit(value: Any) -> Any:
    if value in SIDES:
        return value
    try:
        return units.tuple_of(value, dimension="length", count=2)
    except units.UnitError as error:
        raise units.UnitError(f"expected one of {', '.join(SIDES)}, or a point of the wall; {error}") from None


Exit = str | tuple[float, float]
Exits = Annotated[tuple[Exit, ...], BeforeValidator(partial(units.many, read=_read_exit))]


class Region(Table):
    """A rectangle of the plan."""

    corner: Point
    size: Size


class Pad(Table):
    """A gap pad between plate and a part lower than those that carry it; `contact` is of both its faces."""

    conductivity: Conductivity
    thickness_min: Length  # pressed as far as it may be
    thickness_max: Length
    contact: ContactResistivity = 0.0


class PlateHose(Table):
    """How hoses leave a plate; a bend radius not stated is by a rule of the trade (common practice, no source)."""

    outer: Length  # diameter
    barb_length: Length
    bend_radius: Length | None = None  # of the centre line
    stiff: bool = False  # fluoropolymer and the like, not soft polyurethane
    exits: Exits = SIDES


class Place(Table):
    """Which plate is searched for a place, where, and by which rules of fit."""

    option: str | None = None  # the one with the plate and its loop
    plate: str
    second: str | None = None  # "same", or another plate
    on: str | None = None  # the sheet whose parts it cools
    region: Region | None = None
    pitch: Length = 0.01
    rotations: bool = True
    size: Size | None = None
    layout: Literal["as drawn", "serpentine", "parallel", "spiral"] = "as drawn"
    passes: int = Field(default=4, ge=1, le=50)
    arrangement: Names = ARRANGEMENTS
    paste: Resistivity = 25e-6  # 10 to 40 mm²K/W: common practice, no source
    paste_gap: Length = 1e-4  # what paste still fills; common practice, no source
    pad: Pad | None = None
    least_overlap: PositiveFraction = 0.5
    clearance: Length | None = None
    hose: PlateHose | None = None
    wall_to_channel: Length = 1.5e-3  # common practice, no source
    leaders: int = Field(default=5, ge=1, le=50)


class KeepOut(Table):
    """Where no plate and no hose may be; with a height, what is higher than that may pass over it."""

    corner: Point
    size: Size
    height: Length | None = None  # over the sheet the parts sit on


class Screw(Table):
    """A screw that a plate must leave free, or be drilled for: diameters of the hole and of the ring round it."""

    at: Point
    hole: Length
    ring: Length

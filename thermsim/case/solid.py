"""Tables of the solid side: sheets, parts, joints, films, edges, walls, heat pipes."""

from typing import Literal

from pydantic import Field

from thermsim.case.fields import (
    MOST_SEGMENTS,
    Area,
    Conductivity,
    ContactResistivity,
    Density,
    Difference,
    Drift,
    Emissivity,
    Exponent,
    FilmValue,
    Fraction,
    HeatCapacity,
    HeatDensity,
    HeatFlow,
    HeatFlux,
    JointFilm,
    Length,
    Mass,
    Path,
    Paths,
    Point,
    PositiveFlow,
    PositiveFraction,
    Power,
    Resistance,
    Resistivity,
    Size,
    Size3,
    SpecificHeat,
    Table,
    Temperature,
    Tilt,
    VolumetricHeat,
    Watts,
    ZeroOrEmissivity,
    ZeroOrResistance,
)
from thermsim.case.wetting import Wetted

Side = Literal["left", "right", "front", "back"]  # x low, x high, y low, y high
Face = Literal["top", "bottom"]
Orientation = Literal["up", "down", "vertical"]


class Material(Table):
    """A material; `conductivity` W/mK, `density` kg/m³, `cp` J/kgK."""

    conductivity: Conductivity
    density: Density
    cp: SpecificHeat
    source: str


class Layer(Table):
    """A copper layer of a board: thickness (m) and the share of its area that is copper."""

    thickness: Length
    copper: Fraction


class Stuff(Table):
    """What a sheet or patch is made of: a material, a board stack-up, or stated properties."""

    material: str | None = None
    layers: tuple[Layer, ...] | None = None
    conductivity: Conductivity | None = None
    conductivity_y: Conductivity | None = None
    conductivity_through: Conductivity | None = None
    heat_density: VolumetricHeat | None = None


class Patch(Stuff):
    """A rectangle of a sheet with another material or thickness."""

    corner: Point
    size: Size
    thickness: Length | None = None


class Cutout(Table):
    """A rectangle missing from a sheet."""

    corner: Point
    size: Size


class Sheet(Stuff):
    """A thin conducting layer in plan view; `corner` is its low-x, low-y corner."""

    corner: Point
    size: Size
    thickness: Length
    heat_capacity: HeatCapacity | None = None  # of the whole sheet, instead of heat_density
    patch: dict[str, Patch] = Field(default_factory=dict)
    cutout: dict[str, Cutout] = Field(default_factory=dict)


class Channel(Table):
    """A groove along a path of points in a plate; the coolant enters at the first point."""

    path: Path
    beside: Paths = ()  # further grooves of the same length; the flow is taken to split evenly
    width: Length
    depth: Length
    heated_walls: Literal[3, 4] = 4
    roughness: Length | None = None
    bend_loss: float = Field(default=1.1, ge=0)  # velocity heads a mitred corner (common practice, no source)
    loss_coefficient: float = Field(default=1.5, ge=0)  # entry 0.5 and exit 1.0, textbook values
    entry: Literal["developing", "developed"] = "developing"
    segments: int = Field(default=48, ge=1, le=MOST_SEGMENTS["plate"])

    @property
    def grooves(self) -> Paths:
        """All grooves' paths."""
        return (self.path, *self.beside)


class Plate(Sheet, Wetted):
    """A cold plate: a sheet with a coolant channel."""

    channel: Channel


class Part(Table):
    """A heat source with one temperature; watts in each operating state."""

    on: str | None = None
    face: Face = "top"
    centre: Point | None = None
    size: Size | None = None
    watts: Watts
    limit: Temperature | None = None
    limit_at: str = "case"
    heat_capacity: HeatCapacity
    to_board: Resistance | None = None
    to_top: ZeroOrResistance = 0.0
    drift: Drift | None = None  # of its reading, 1/K
    doubling: Difference | None = None  # reading doubles in so many kelvin
    reading_tolerance: PositiveFraction | None = None
    mass: Mass | None = None
    height: Length | None = None  # over the sheet it sits on


class Source(Table):
    """Heat put evenly into a sheet or a rectangle of it: losses in traces, a heater foil, the sun."""

    on: str
    corner: Point | None = None
    size: Size | None = None
    watts: HeatFlow | None = None
    flux: HeatFlux | None = None  # per area in plan
    density: HeatDensity | None = None  # per volume, through the whole thickness


class Joint(Table):
    """A heat path over an area, stated in one of four ways."""

    between: tuple[str, str]
    resistance: Resistance | None = None
    resistivity: Resistivity | None = None
    conductance: JointFilm | None = None
    bond_line: Length | None = None
    conductivity: Conductivity | None = None
    contact: ContactResistivity | None = None
    corner: Point | None = None
    size: Size | None = None
    area: Area | None = None


class FilmLaw(Table):
    """How a face exchanges heat with air.

    `fixed`: h. `scaled`: h measured at a flow, moving with (flow/at_flow)^exponent, never under `still`.
    `natural`: from orientation and length. `duct`: forced between two walls. `plate`: forced along a plate.
    """

    law: Literal["fixed", "scaled", "natural", "duct", "plate"]
    h: FilmValue | None = None
    at_flow: PositiveFlow | None = None
    exponent: Exponent | None = None
    still: FilmValue | None = None
    orientation: Orientation | None = None
    length: Length | None = None
    emissivity: ZeroOrEmissivity | None = None  # radiation to the room


class Film(FilmLaw):
    """A film on a face of a sheet, plate, wall or part."""

    on: str
    face: Face = "top"
    to: str = "room"  # "room" or an airway
    air: Temperature | None = None  # a stated temperature in place of `to`
    corner: Point | None = None
    size: Size | None = None


class Radiation(Table):
    """Radiation between two facing sheets, as large parallel plates where they overlap."""

    between: tuple[str, str]
    emissivity: tuple[Emissivity, Emissivity]


class Edge(Table):
    """A condition on a sheet's rim, or on a `stretch` of it (from, to along x or y)."""

    on: str
    side: Side
    stretch: Point | None = None
    temperature: Temperature | None = None
    heat: HeatFlow | None = None
    flux: HeatFlux | None = None
    h: FilmValue | None = None
    emissivity: Emissivity | None = None
    air: Temperature | None = None


class Wall(Table):
    """A side of the box, one temperature, joined to the rims of lid and floor."""

    side: Side
    size: Size
    thickness: Length
    material: str
    joins: tuple[str, str]


class InsideFilm(FilmLaw):
    """The film on the box's inside faces, to the airway it names."""

    to: str


class Box(Table):
    """The case of the instrument; stands for sheets `lid` and `floor` and four walls with their films."""

    corner: Point
    size: Size3
    thickness: Length
    material: str
    outside: FilmLaw
    inside: InsideFilm | None = None


class Wick(Table):
    """What returns a heat pipe's water: sintered grains or wrapped mesh."""

    kind: Literal["sinter", "mesh"]
    thickness: Length
    grain: Length | None = None  # diameter
    porosity: Fraction | None = None
    wire: Length | None = None  # diameter
    opening: Length | None = None  # between wires


class HeatPipe(Table):
    """Pipes in parallel between two places; capacity is for one straight, level, round pipe."""

    between: tuple[str, str]
    corner: Point | None = None  # where on a sheet it ends, if it does
    size: Size | None = None
    count: int = Field(default=1, ge=1)
    resistance: Resistance  # of one pipe
    capacity: Power | None = None  # the maker's; otherwise the wick's
    diameter: Length | None = None  # outer, before flattening
    wall: Length | None = None
    wick: Wick | None = None
    evaporator: Length | None = None
    adiabatic: Length | None = None
    condenser: Length | None = None
    tilt: Tilt = 0.0  # rad, the first end of `between` above the second where positive
    bends: int = Field(default=0, ge=0)
    bend_factor: float = Field(default=0.9, gt=0, le=1)
    flattening_factor: float = Field(default=1.0, gt=0, le=1)
    margin: float = Field(default=1.3, ge=1)
    mass: Mass | None = None  # of one pipe

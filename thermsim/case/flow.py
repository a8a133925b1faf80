"""Tables of the air and coolant side."""

from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from thermsim.case.fields import (
    MOST_SEGMENTS,
    AirwayName,
    Area,
    Conductance,
    Conductivity,
    Exponent,
    Flow,
    FlowCurve,
    FlowResistance,
    Fraction,
    HeatCapacity,
    Inlet,
    Length,
    Level,
    LineLoss,
    Mass,
    Names,
    OctaveBands,
    Permeation,
    Point,
    PositiveFlow,
    Power,
    Pressure,
    Resistance,
    Rotation,
    Size,
    Speed,
    Table,
    Temperature,
    Volume,
    ZeroOrConductance,
    ZeroOrPressure,
    ZeroOrResistance,
)
from thermsim.case.wetting import Wetted

Direction = Literal["+x", "-x", "+y", "-y"]


class Noisy(Table):
    """What one device is heard as at rated speed: a level at a distance, or its sound power."""

    noise: Level | None = None  # dB(A)
    noise_is: Literal["level", "power"] = "level"
    noise_distance: Length | None = None  # of the level; otherwise it is that at the listener
    noise_bands: OctaveBands | None = None  # of the same level or power
    heard: bool = True  # False: behind a wall, silent at the listener


class Fan(Noisy):
    """A fan as measured at its rated speed; `count` alike side by side, `in_series` one behind another."""

    curve: FlowCurve
    rated_speed: Rotation | None = None
    speed: Speed = 1.0
    count: int = Field(default=1, ge=1)
    in_series: int = Field(default=1, ge=1)
    blades: int | None = Field(default=None, ge=2)
    heat: Power = 0.0  # watts of one fan into its air at rated speed
    mass: Mass | None = None  # of one fan


class Opening(Table):
    """A vent, grille or filter frame: free area and loss coefficient on it."""

    area: Area
    loss: float = Field(gt=0)


class Airway(Table):
    """A stream of air over a rectangle of the plan, warming as it goes."""

    corner: Point | None = None
    size: Size | None = None
    height: Length | None = None  # clear height of the passage
    direction: Direction = "+x"
    fans: Names = ()  # one behind another; each fan table may stand for several side by side
    resistance: FlowResistance = 0.0
    filter: FlowResistance = 0.0
    opening: dict[str, Opening] = Field(default_factory=dict)
    flow: Flow | None = None  # pinned
    draught: Flow = 0.0  # what natural convection alone keeps moving
    inlet: Inlet = "room"
    returns: bool = False  # gives its air back to the airway it draws from: a fan that stirs inside the box
    segments: int = Field(default=24, ge=1, le=MOST_SEGMENTS["airway"])

    @model_validator(mode="after")
    def _returns_somewhere(self) -> Self:
        if self.returns and not str(self.inlet).startswith("airway."):
            raise ValueError('returns goes with an inlet from another airway, such as inlet = "airway.main"')
        return self


class Sink(Table):
    """A finned sink in an airway: measured resistance at a flow, or straight fins."""

    on: str
    airway: AirwayName
    along: Fraction | None = None
    resistance: Resistance | None = None
    at_flow: PositiveFlow | None = None
    exponent: Exponent | None = None
    still: Resistance | None = None
    base: Size | None = None
    fins: int | None = Field(default=None, ge=2)
    fin_height: Length | None = None
    fin_thickness: Length | None = None
    conductivity: Conductivity | None = None
    flow_share: Fraction = 1.0  # of the airway's flow that passes between the fins
    upright: bool = False  # air rises through the gaps of the fins by itself when no fan drives it
    heat_capacity: HeatCapacity | None = None
    height: Length | None = None  # base and fins
    mass: Mass | None = None


class Pump(Noisy, Wetted):
    """A pump as measured at its rated speed."""

    curve: FlowCurve
    rated_speed: Rotation | None = None
    speed: Speed = 1.0
    heat: Power = 0.0
    mass: Mass | None = None


class Drop(Wetted):
    """A measured pressure drop at a flow, moving with flow^drop_exponent."""

    drop: Pressure | None = None
    drop_at: PositiveFlow | None = None
    drop_exponent: Annotated[float, Field(ge=1, le=2)] = 1.75


class Hose(Wetted):
    """A tube of the loop with its fittings (loss coefficients on the bore)."""

    length: Length
    bore: Length
    roughness: Length | None = None
    fittings: dict[str, int] = Field(default_factory=dict)
    loss_coefficient: float = Field(default=0.0, ge=0)
    loss: LineLoss = 0.0  # W/mK to the room
    permeation: Permeation | None = None  # of water through its wall
    mass: Mass | None = None  # empty, fittings included
    segments: int = Field(default=4, ge=1, le=MOST_SEGMENTS["hose"])


class Radiator(Drop):
    """Coolant to air: conductance UA at an air flow, moving with flow^exponent."""

    airway: AirwayName
    conductance: Conductance
    at_flow: PositiveFlow
    exponent: Exponent
    arrangement: Literal["cross", "counter", "parallel"] = "cross"
    place: Literal["inlet", "outlet"] = "inlet"
    still: ZeroOrConductance = 0.0
    volume: Volume
    heat_capacity: HeatCapacity | None = None
    mass: Mass | None = None  # empty


class Block(Drop):
    """A cold block with a measured resistance to the coolant that enters it."""

    resistance: Resistance
    at_flow: PositiveFlow | None = None
    exponent: Exponent | None = None
    still: ZeroOrResistance = 0.0
    volume: Volume
    heat_capacity: HeatCapacity | None = None
    height: Length | None = None
    mass: Mass | None = None  # empty


class Reservoir(Wetted):
    """A mixed volume of coolant."""

    volume: Volume
    gas: Volume | None = None  # over the coolant, at filling
    reserve: Volume | None = None  # of its coolant, before the pump draws air
    loss: ZeroOrConductance = 0.0  # W/K to the room
    mass: Mass | None = None  # empty


class Loop(Wetted):
    """A closed coolant circuit: its path from the pump's outlet; a list in it is branches side by side."""

    pump: str
    coolant: Literal["water", "ethylene glycol", "propylene glycol"]
    fraction: Fraction = 0.0
    fraction_by: Literal["mass", "volume"] = "mass"
    path: tuple[Any, ...]
    flow: Flow | None = None  # pinned
    rating: Pressure | None = None  # of its weakest element, over the air's
    vented: bool = False
    fill_temperature: Temperature | None = None
    fill_pressure: ZeroOrPressure = 0.0  # over the air's, of the gas cushion at filling
    coldest: Temperature | None = None  # running, off, in store
    hottest: Temperature | None = None
    inhibited: bool | None = None
    ph: Annotated[float, Field(ge=0, le=14)] | None = None

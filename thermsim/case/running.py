"""Tables of the running side: room, governors, duty, mishaps, must-haves, probes, the run itself."""

from typing import Annotated, Any, Literal

from pydantic import Field

from thermsim.case.fields import (
    AirwayFactors,
    Altitude,
    Difference,
    Humidity,
    Length,
    Level,
    LoopShares,
    Moment,
    Names,
    OctaveBands,
    Point,
    Pressure,
    Speed,
    SpeedCurve,
    SpeedGain,
    SpeedRate,
    Table,
    Temperature,
    Time,
)

Effort = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Criterion = Literal["1 K/h", "2 K/h", "2 K in 1 h", "3 K in 30 min", "1 K in 5 min"]


class Room(Table):
    """Where the box stands."""

    temperature: Temperature
    humidity: Humidity | None = None
    pressure: Pressure | None = None
    altitude: Altitude | None = None
    noise_floor: Level | None = None
    noise_bands: OctaveBands | None = None  # of the room alone
    listener: Length | None = None  # distance of who hears the box
    spreading: Literal["hemisphere", "free"] = "hemisphere"  # of a sound power: over a hard floor, or all around

    def air_pressure(self) -> float:
        """Pa: as stated, or that of the altitude, or one atmosphere."""
        from thermsim.physics.air import pressure_at_altitude
        from thermsim.physics.basics import STANDARD_ATMOSPHERE_PA

        if self.pressure is not None:
            return self.pressure
        return STANDARD_ATMOSPHERE_PA if self.altitude is None else pressure_at_altitude(self.altitude)


class Governor(Table):
    """A law from a sensor's reading to the speed of fans or pumps.

    `hold`: proportional-integral about `set_point`. `curve`: speed from points. `switch`: on/off, hysteresis.
    """

    sensor: str
    drives: Names
    law: Literal["hold", "curve", "switch"]
    set_point: Temperature | None = None
    gain: SpeedGain | None = None
    reset: Time | None = None
    curve: SpeedCurve | None = None
    on_above: Temperature | None = None
    off_below: Temperature | None = None
    min_speed: Speed = 0.0
    max_speed: Speed = 1.0
    ramp: SpeedRate | None = None
    lag: Time = 5.0
    start: Speed | None = None


class Sine(Table):
    """mean + amplitude·sin(2πt/period), each in the unit of what it moves."""

    mean: str
    amplitude: str
    period: Time


class Duty(Table):
    """Something that changes with time: the operating state, a part's watts, a temperature."""

    of: str  # "state", or an address such as "part.fpga.watts"
    points: tuple[str, ...] | None = None
    shape: Literal["step", "ramp"] = "step"
    sine: Sine | None = None
    repeat: Time | None = None


class Mishap(Table):
    """Something that goes wrong at a time."""

    at: Moment
    ends: Moment | None = None
    stops: Names = ()  # fans or pumps
    blocks: AirwayFactors = Field(default_factory=dict)  # airway: factor on its resistance
    airlock: Names = ()  # elements of the loop whose branch is closed
    coolant_lost: LoopShares = Field(default_factory=dict)  # share of all that the loop holds
    room_rise: Difference | None = None


class MustHave(Table):
    """A condition an option may not fail, besides the limits of the parts."""

    of: str  # "noise", "dew margin", "warm-up", "height", "mass", or a part
    at_most: str | None = None
    at_least: str | None = None


class Probe(Table):
    """A place on a sheet whose temperature is recorded."""

    on: str
    at: Point


class Option(Table):
    """A named set of changes on the base case, or on another option."""

    base: str | None = None
    note: str = ""
    remove: Names = ()
    set: dict[str, Any] = Field(default_factory=dict)
    add: dict[str, Any] = Field(default_factory=dict)
    mishaps: Names = ()
    effort: dict[str, Effort] = Field(default_factory=dict)  # cost, hours, upkeep …: plain numbers, less is better


class Run(Table):
    """How to run: how long, from where, how fine, what to keep."""

    duration: Time = 1800.0
    until: Literal["time", "steady"] = "time"
    criterion: Criterion = "2 K/h"
    state: str = "work"
    start: Temperature | None = None  # default: the room
    cell: Length = 0.005
    halvings: int = Field(default=0, ge=0, le=8)  # of every cell, after the grid is laid
    merge: Length = 0.0002
    tolerance: Difference = 0.02  # of the time stepping
    settle: Difference = 0.5  # warm-up: enters and stays within this of the end value
    frames: int = Field(default=61, ge=2, le=100_000)

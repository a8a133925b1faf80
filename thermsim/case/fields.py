"""Field types of the case file: text with units outside, SI floats (and °C) inside."""

from functools import partial
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Discriminator, Field, Tag

from thermsim import units
from thermsim.case.finishes import emissivity


class Table(BaseModel):
    """A table of the case file: no unknown keys, never changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


def _read(dimension: str) -> BeforeValidator:
    return BeforeValidator(partial(units.quantity, dimension=dimension))


def _read_pair(dimension: str) -> BeforeValidator:
    return BeforeValidator(partial(units.tuple_of, dimension=dimension, count=2))


def _read_points(first: str, second: str) -> BeforeValidator:
    return BeforeValidator(partial(units.points, dimensions=(first, second)))


def _one_or_many(value: Any) -> Any:
    return (value,) if isinstance(value, str) else tuple(value) if isinstance(value, list) else value


def _read_inlet(value: Any) -> Any:
    if isinstance(value, str) and (value == "room" or value.startswith("airway.")):
        return value
    return units.quantity(value, "temperature")


def _without_kind(value: Any) -> Any:
    return value.removeprefix("airway.") if isinstance(value, str) else value


def _bare_names(value: Any) -> Any:
    return {_without_kind(key): item for key, item in value.items()} if isinstance(value, dict) else value


def _bare_loops(value: Any) -> Any:
    return {key.removeprefix("loop."): item for key, item in value.items()} if isinstance(value, dict) else value


Length = Annotated[float, _read("length"), Field(gt=0)]
Altitude = Annotated[float, _read("length"), Field(ge=-500, le=9000)]
Area = Annotated[float, _read("area"), Field(gt=0)]
Volume = Annotated[float, _read("volume"), Field(gt=0)]
Time = Annotated[float, _read("time"), Field(gt=0)]
Moment = Annotated[float, _read("time"), Field(ge=0)]
Power = Annotated[float, _read("power"), Field(ge=0, le=1e6)]
HeatFlow = Annotated[float, _read("power"), Field(ge=-1e6, le=1e6)]
HeatFlux = Annotated[float, _read("flux")]
HeatDensity = Annotated[float, _read("power_density")]
Temperature = Annotated[float, _read("temperature"), Field(ge=-273.15, le=3000)]
Difference = Annotated[float, _read("difference"), Field(gt=0)]
Conductivity = Annotated[float, _read("conductivity"), Field(gt=0)]
LineLoss = Annotated[float, _read("conductivity"), Field(ge=0)]
FilmValue = Annotated[float, _read("film"), Field(ge=0)]
JointFilm = Annotated[float, _read("film"), Field(gt=0)]
Resistivity = Annotated[float, _read("resistivity"), Field(gt=0)]
ContactResistivity = Annotated[float, _read("resistivity"), Field(ge=0)]
Resistance = Annotated[float, _read("resistance"), Field(gt=0)]
ZeroOrResistance = Annotated[float, _read("resistance"), Field(ge=0)]
Conductance = Annotated[float, _read("conductance"), Field(gt=0)]
ZeroOrConductance = Annotated[float, _read("conductance"), Field(ge=0)]
HeatCapacity = Annotated[float, _read("heat_capacity"), Field(gt=0)]
VolumetricHeat = Annotated[float, _read("volumetric_heat"), Field(gt=0)]
SpecificHeat = Annotated[float, _read("specific_heat"), Field(gt=0)]
Density = Annotated[float, _read("density"), Field(gt=0)]
Flow = Annotated[float, _read("flow"), Field(ge=0)]
PositiveFlow = Annotated[float, _read("flow"), Field(gt=0)]
Pressure = Annotated[float, _read("pressure"), Field(gt=0)]
LeakRate = Annotated[float, _read("leak_rate"), Field(gt=0)]
ZeroOrPressure = Annotated[float, _read("pressure"), Field(ge=0)]
FlowResistance = Annotated[float, _read("flow_resistance"), Field(ge=0)]
Speed = Annotated[float, _read("fraction"), Field(ge=0, le=1.5)]
Fraction = Annotated[float, _read("fraction"), Field(ge=0, le=1)]
Humidity = Annotated[float, _read("fraction"), Field(gt=0, le=1)]
SpeedRate = Annotated[float, _read("fraction_rate"), Field(gt=0)]
SpeedGain = Annotated[float, _read("fraction_per_kelvin"), Field(gt=0)]
Drift = Annotated[float, _read("drift")]
PositiveFraction = Annotated[float, _read("fraction"), Field(gt=0)]
Rotation = Annotated[float, _read("rotation"), Field(gt=0)]
Level = Annotated[float, _read("level")]
OctaveBands = Annotated[  # dB, not weighted, in the octaves of 63, 125 … 8000 Hz
    tuple[float, float, float, float, float, float, float, float],
    BeforeValidator(partial(units.tuple_of, dimension="band_level", count=8)),
]
LevelDifference = Annotated[float, _read("level"), Field(gt=0)]
Tilt = Annotated[float, _read("angle"), Field(ge=-1.5708, le=1.5708)]
Permeation = Annotated[float, _read("permeation"), Field(ge=0)]
Mass = Annotated[float, _read("mass"), Field(ge=0)]
Number = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Emissivity = Annotated[float, BeforeValidator(emissivity), Field(gt=0, le=1)]
ZeroOrEmissivity = Annotated[float, BeforeValidator(emissivity), Field(ge=0, le=1)]
Exponent = Annotated[float, Field(ge=0, le=3)]

Point = Annotated[tuple[float, float], _read_pair("length")]
Size = Annotated[tuple[Annotated[float, Field(gt=0)], Annotated[float, Field(gt=0)]], _read_pair("length")]
Size3 = Annotated[
    tuple[Annotated[float, Field(gt=0)], Annotated[float, Field(gt=0)], Annotated[float, Field(gt=0)]],
    BeforeValidator(partial(units.tuple_of, dimension="length", count=3)),
]
Path = Annotated[
    tuple[tuple[float, float], ...],
    BeforeValidator(partial(units.many, read=partial(units.tuple_of, dimension="length", count=2))),
]
Paths = Annotated[
    tuple[tuple[tuple[float, float], ...], ...],
    BeforeValidator(
        partial(units.many, read=partial(units.many, read=partial(units.tuple_of, dimension="length", count=2)))
    ),
]
FlowCurve = Annotated[tuple[tuple[float, float], ...], _read_points("flow", "pressure")]
SpeedCurve = Annotated[tuple[tuple[float, float], ...], _read_points("temperature", "fraction")]
MOST_SEGMENTS = {"airway": 500, "hose": 200, "plate": 2000}  # of a stream in each
ONE, STATES = "\0one", "\0states"  # in the places of errors; no key of a file can be called so
Watts = Annotated[
    Annotated[Power, Tag(ONE)] | Annotated[dict[str, Power], Tag(STATES)],
    Discriminator(lambda value: STATES if isinstance(value, dict) else ONE),
]
Inlet = Annotated[float | str, BeforeValidator(_read_inlet)]  # a temperature, "room" or "airway.name"
AirwayName = Annotated[str, BeforeValidator(_without_kind)]  # written "main" or "airway.main", kept as "main"
LoopShares = Annotated[  # written "main" or "loop.main", kept as "main"
    dict[str, Annotated[float, _read("fraction"), Field(gt=0, le=1)]], BeforeValidator(_bare_loops)
]
AirwayFactors = Annotated[dict[str, Number], BeforeValidator(_bare_names)]
Names = Annotated[tuple[str, ...], BeforeValidator(_one_or_many)]

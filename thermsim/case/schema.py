"""The case file as a whole."""

from pydantic import Field

from thermsim.case.benching import Bench
from thermsim.case.chilling import Chill
from thermsim.case.deciding import Decide
from thermsim.case.fields import Table
from thermsim.case.fitting import Fit
from thermsim.case.flow import Airway, Block, Fan, Hose, Loop, Pump, Radiator, Reservoir, Sink
from thermsim.case.leaking import Leak
from thermsim.case.placing import KeepOut, Place, Screw
from thermsim.case.running import Duty, Governor, Mishap, MustHave, Option, Probe, Room, Run
from thermsim.case.solid import (
    Box,
    Edge,
    Film,
    HeatPipe,
    Joint,
    Material,
    Part,
    Plate,
    Radiation,
    Sheet,
    Source,
    Wall,
)
from thermsim.case.uncertain import Uncertain


class About(Table):
    """What the case is about."""

    title: str
    note: str = ""
    invented: bool = False  # demo data, not measured


class Spec(Table):
    """A whole case after options are applied and the box is written out as sheets, walls and films."""

    case: About
    room: Room
    run: Run = Run()
    decide: Decide = Decide()
    place: Place | None = None
    chill: Chill = Chill()
    bench: Bench = Bench()
    fit: Fit = Fit()
    leak: Leak = Leak()
    material: dict[str, Material] = Field(default_factory=dict)
    sheet: dict[str, Sheet] = Field(default_factory=dict)
    plate: dict[str, Plate] = Field(default_factory=dict)
    wall: dict[str, Wall] = Field(default_factory=dict)
    part: dict[str, Part] = Field(default_factory=dict)
    source: dict[str, Source] = Field(default_factory=dict)
    joint: dict[str, Joint] = Field(default_factory=dict)
    film: dict[str, Film] = Field(default_factory=dict)
    radiation: dict[str, Radiation] = Field(default_factory=dict)
    edge: dict[str, Edge] = Field(default_factory=dict)
    heat_pipe: dict[str, HeatPipe] = Field(default_factory=dict)
    airway: dict[str, Airway] = Field(default_factory=dict)
    fan: dict[str, Fan] = Field(default_factory=dict)
    sink: dict[str, Sink] = Field(default_factory=dict)
    loop: dict[str, Loop] = Field(default_factory=dict)
    pump: dict[str, Pump] = Field(default_factory=dict)
    hose: dict[str, Hose] = Field(default_factory=dict)
    radiator: dict[str, Radiator] = Field(default_factory=dict)
    block: dict[str, Block] = Field(default_factory=dict)
    reservoir: dict[str, Reservoir] = Field(default_factory=dict)
    governor: dict[str, Governor] = Field(default_factory=dict)
    duty: dict[str, Duty] = Field(default_factory=dict)
    mishap: dict[str, Mishap] = Field(default_factory=dict)
    must_have: dict[str, MustHave] = Field(default_factory=dict)
    probe: dict[str, Probe] = Field(default_factory=dict)
    keep_out: dict[str, KeepOut] = Field(default_factory=dict)
    screw: dict[str, Screw] = Field(default_factory=dict)
    uncertain: dict[str, Uncertain] = Field(default_factory=dict)
    option: dict[str, Option] = Field(default_factory=dict)


class CaseFile(Spec):
    """What a case file may hold: a `Spec`, and the box that is written out as sheets, walls and films."""

    box: Box | None = None

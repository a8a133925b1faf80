"""Straight fins of a sink as channels: their gaps, the velocity in them, film and pressure drop."""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.case.flow import Airway, Sink
from thermsim.physics.air import AirState
from thermsim.physics.correlated import Correlated
from thermsim.physics.fins import gap_pressure_drop, gap_width, plate_fin_film, plate_fin_sink


@dataclass(frozen=True)
class Fins:
    """Fins along an airway's direction; lengths in m, k in W/mK. `share` of the airway's flow passes the gaps."""

    along: float
    across: float
    count: int
    height: float
    thickness: float
    conductivity: float
    share: float

    @classmethod
    def of(cls, sink: Sink, way: Airway) -> Fins:
        """The fins of a sink table whose geometry is stated."""
        assert sink.base is not None  # the case was checked
        assert sink.fins is not None
        assert sink.fin_height is not None
        assert sink.fin_thickness is not None
        assert sink.conductivity is not None
        along, across = sink.base if way.direction.endswith("x") else (sink.base[1], sink.base[0])
        return cls(along, across, sink.fins, sink.fin_height, sink.fin_thickness, sink.conductivity, sink.flow_share)

    @property
    def gap(self) -> float:
        """Width of the gaps, m."""
        return gap_width(self.across, self.count, self.thickness)

    def velocity(self, flow: float) -> float:
        """Velocity in the gaps (m/s) at an airway flow (m³/s)."""
        return self.share * flow / ((self.count - 1) * self.gap * self.height)

    def film(self, flow: float, air: AirState) -> Correlated:
        """Film in the gaps, W/m²K."""
        return plate_fin_film(self.velocity(flow), self.gap, self.height, self.along, air)

    def conductance(self, h: float) -> float:
        """Base to air, W/K, with fin efficiency and the bare base."""
        return 1 / plate_fin_sink(
            self.across, self.along, self.count, self.height, self.thickness, self.conductivity, h
        )

    def drop(self, flow: float, air: AirState) -> float:
        """Pressure drop through the gaps, Pa."""
        return gap_pressure_drop(self.velocity(flow), self.gap, self.height, self.along, air).value

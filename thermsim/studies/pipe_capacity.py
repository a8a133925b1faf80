"""What heat pipes carry and what they may carry, at a state: the maker's figure, or an estimate from the wick."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi, sin

from thermsim.case.solid import HeatPipe, Wick
from thermsim.model.operating import Conditions
from thermsim.model.system import Model
from thermsim.physics.heat_pipes import (
    capillary_limit,
    derated_capacity,
    effective_length,
    pore_radius_screen,
    pore_radius_sintered,
    porosity_screen,
    wick_permeability_screen,
    wick_permeability_sintered,
)
from thermsim.physics.saturated_water import saturated_water
from thermsim.solve.ledger import through


@dataclass(frozen=True)
class Bundle:
    """The pipes of one table together: load and capacity, W; vapour temperature, °C; hot end above the cold, rad."""

    load: float
    capacity: float
    vapour_degc: float
    tilt: float

    @property
    def margin(self) -> float | None:
        """Capacity over load; None without a load."""
        return self.capacity / self.load if self.load else None

    @property
    def used(self) -> float:
        """Load over capacity, to tell the tightest by."""
        return self.load / self.capacity if self.capacity else inf if self.load else 0.0


def bundles(model: Model, now: Conditions) -> dict[str, Bundle]:
    """Every table of heat pipes at a state, by name."""
    strengths, found = model.strengths(now), {}
    for name, pipe in model.case.spec.heat_pipe.items():
        out_of_first = through(model, now, strengths, f"heat_pipe.{name} at {pipe.between[0]}")
        vapour = float(now.temperature[model.numbers(f"heat_pipe.{name}")[0]])
        tilt = -pipe.tilt if out_of_first < 0 else pipe.tilt  # whichever end is hot evaporates
        found[name] = Bundle(abs(out_of_first), pipe.count * one_pipe(pipe, vapour, tilt), vapour, tilt)
    return found


def one_pipe(pipe: HeatPipe, vapour_degc: float, tilt: float) -> float:
    """Capacity (W) of one pipe as it is bent, flattened and tilted (rad, its hot end above the other).

    The maker's figure where there is one, times what the wick says that tilt leaves of it; otherwise the wick's.
    """
    straight = pipe.capacity if pipe.capacity is not None else wick_limit(pipe, vapour_degc, 0.0)
    assert straight is not None  # the case was checked
    level = wick_limit(pipe, vapour_degc, 0.0)
    if level:
        straight *= (wick_limit(pipe, vapour_degc, tilt) or 0.0) / level
    return derated_capacity(straight, pipe.bends, pipe.bend_factor, pipe.flattening_factor)


def wick_limit(pipe: HeatPipe, vapour_degc: float, tilt: float) -> float | None:
    """Capillary limit (W) of one straight round pipe at a tilt, rad; None without a wick. Good to a factor of 2."""
    wick = pipe.wick
    if wick is None:
        return None
    assert pipe.diameter is not None
    assert pipe.wall is not None
    pore, permeability, _ = pores(wick)
    water = saturated_water(vapour_degc)
    outer = pipe.diameter / 2 - pipe.wall
    core = outer - wick.thickness
    return capillary_limit(
        surface_tension=water.surface_tension,
        pore_radius=pore,
        permeability=permeability,
        wick_area=pi * (outer**2 - core**2),
        latent_heat=water.latent_heat,
        liquid_density=water.liquid_density,
        liquid_viscosity=water.liquid_viscosity,
        effective_length=effective_length(*lengths(pipe)),
        vapour_density=water.vapour_density,
        vapour_viscosity=water.vapour_viscosity,
        vapour_radius=core,
        rise=sum(lengths(pipe)) * sin(tilt),
    )


def lengths(pipe: HeatPipe) -> tuple[float, float, float]:
    """Evaporator, adiabatic part and condenser of a pipe that states them, m."""
    assert pipe.evaporator is not None
    assert pipe.adiabatic is not None
    assert pipe.condenser is not None
    return pipe.evaporator, pipe.adiabatic, pipe.condenser


def pores(wick: Wick) -> tuple[float, float, float]:
    """Effective pore radius (m), permeability (m²) and porosity of a wick."""
    if wick.kind == "sinter":
        assert wick.grain is not None
        assert wick.porosity is not None
        radius = wick.grain / 2
        return pore_radius_sintered(radius), wick_permeability_sintered(radius, wick.porosity), wick.porosity
    assert wick.wire is not None
    assert wick.opening is not None
    porosity = porosity_screen(wick.wire, wick.opening)
    return pore_radius_screen(wick.wire, wick.opening), wick_permeability_screen(wick.wire, porosity), porosity

"""Where variants of a case settle: one steady state after another, each from the last, sharing sheets and factor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import build, rebuild
from thermsim.model.system import Model
from thermsim.physics.moist_air import dew_point
from thermsim.solve.noise import noise_known, noise_levels
from thermsim.solve.steady import Steady, SteadySolver


@dataclass(frozen=True)
class Settled:
    """A steady state of a case, and what is asked of it."""

    model: Model
    steady: Steady

    @property
    def case(self) -> Case:
        """The case it is of."""
        return self.model.case

    @property
    def parts(self) -> dict[str, float]:
        """Temperature of every part, °C."""
        return {name: float(self.steady.temperature[self.model.numbers(f"part.{name}")[0]]) for name in self.spec_parts}

    @property
    def spec_parts(self) -> list[str]:
        """Names of the parts."""
        return list(self.case.spec.part)

    @property
    def margins(self) -> dict[str, float]:
        """What is left to its limit, K, of every part that has one."""
        parts, tables = self.parts, self.case.spec.part
        return {name: limit - parts[name] for name in parts if (limit := tables[name].limit) is not None}

    @property
    def worst(self) -> tuple[str, float] | None:
        """The part nearest to its limit (or furthest over) and its margin, K."""
        margins = self.margins
        name = min(margins, key=lambda part: margins[part], default=None)
        return None if name is None else (name, margins[name])

    @property
    def speeds(self) -> dict[str, float]:
        """Speed of every fan and pump relative to rated, by address."""
        return {device: float(speed) for device, speed in self.steady.inputs.controls.speeds.items()}

    @property
    def noise(self) -> tuple[float, float] | None:
        """Level of fans and pumps, and with the room's floor, dB(A); None where no noise was stated."""
        return noise_levels(self.model, self.speeds) if noise_known(self.model) else None

    @property
    def coldest_degc(self) -> float:
        """The coldest node or given temperature, inlets among them, °C."""
        return float(self.steady.conditions.temperature.min())

    @property
    def coldest_at(self) -> str:
        """Where that is: an address, or an inlet's."""
        k, nodes = int(self.steady.conditions.temperature.argmin()), self.model.node_count
        return self.model.name_of(k) if k < nodes else list(self.model.site.builder.places)[::-1][k - nodes]

    @property
    def dew_point_degc(self) -> float | None:
        """Dew point of the room's air, °C; None without a humidity."""
        room = self.case.spec.room
        return None if room.humidity is None else dew_point(room.temperature, room.humidity)

    @property
    def air_flows(self) -> dict[str, float]:
        """Air flow by airway, m³/s."""
        return {name: point.flow for name, point in self.steady.conditions.air.items()}

    @property
    def coolant_flows(self) -> dict[str, float]:
        """Coolant flow at the pump by loop, m³/s."""
        return {name: point.flows["pump"] for name, point in self.steady.conditions.loops.items()}

    def facts(self) -> dict[str, Any]:
        """All of this as plain values with units in the keys."""
        noise, dew, worst = self.noise, self.dew_point_degc, self.worst
        return {
            "parts_degc": self.parts,
            "margins_k": self.margins,
            "worst_part": worst[0] if worst else None,
            "worst_margin_k": worst[1] if worst else None,
            "speeds": self.speeds,
            "settles": self.steady.settles,
            "sources_dba": noise[0] if noise else None,
            "with_room_dba": noise[1] if noise else None,
            "coldest_degc": self.coldest_degc,
            "dew_margin_k": self.coldest_degc - dew if dew is not None else None,
            "air_m3_per_h": {name: 3600 * flow for name, flow in self.air_flows.items()},
            "coolant_l_per_min": {name: 6e4 * flow for name, flow in self.coolant_flows.items()},
        }


def what_moves(case: Case) -> list[str]:
    """What a steady state leaves out where duties move something, in words."""
    moved = ["the operating state" if duty.of == "state" else duty.of for duty in case.spec.duty.values()]
    if not moved:
        return []
    return [f"where it settles is told for the first stretch of the run; left out: changes of {', '.join(moved)}"]


class Settler:
    """Settles variants of one box. Sheets are laid out once and a factor is kept as long as it serves.

    A variant with other sheets, plates, grid or run settings is built anew, and the next ones are taken from there.
    """

    def __init__(self) -> None:
        self._model: Model | None = None
        self._last: SteadySolver | None = None
        self.built = 0
        self.factorisations = 0

    def settle(self, case: Case, time: float | None = None) -> Settled:
        """The steady state under the inputs of a time, s (default: the middle of the first stretch without a jump).

        Raises `NoPath` where heat has no way out, `SolveFailed` where no steady state is found.
        """
        model = None if self._model is None else rebuild(self._model, case)
        solver = None
        if model is None:
            model = build(case)
            self._model, self._last = model, None
            self.built += 1
        if time is None:
            time = 0.5 * min((*model.program.breaks, case.spec.run.duration))
        solver = SteadySolver(model, self._guess(model))
        if self._last is not None and self._last.model.node_count == model.node_count:
            solver.factor = self._last.factor
        steady = solver.solve(time)
        self.factorisations += solver.factorisations
        self._last = solver
        return Settled(model, steady)

    def _guess(self, model: Model) -> Floats | None:
        last = self._last
        if last is None or last.model.node_count != model.node_count or not np.isfinite(last.temperature).all():
            return None
        return last.temperature

"""The benchmark box: one plain description, and from it the case for thermsim and the numbers for its peers.

Three sheets over one another (lid, board, base), a copper patch in a bare laminate, six parts, one stream of air.
All laws are linear: no radiation, no natural convection. The figures are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermsim.case.case import Case
from thermsim.model.grid import Grid, make_grid
from thermsim.physics.air import dry_air

Floats = NDArray[np.float64]
Point = tuple[float, float]

SIZE: Point = (300, 200)  # mm
ROOM_DEGC = 22.0
END = 1800.0  # s
FLOW, HEIGHT, SEGMENTS = 30.0, 20.0, 24  # m³/h, mm, lengths of the airway
SCALES = np.linspace(0.9, 1.6, 71)  # of the ideal cell, tried in turn: lines on every edge make it come out finer


@dataclass(frozen=True)
class Layer:
    """A sheet: mm, W/mK in the plane and through it, J/m³K, films to the room and to the airway (W/m²K)."""

    thickness: float
    conductivity: float
    through: float
    heat_density: float
    to_room: float = 0.0
    to_air: float = 0.0

    @property
    def half(self) -> float:
        """Through resistance of half the thickness, m²K/W."""
        return self.thickness / 2000 / self.through

    def film(self, coefficient: float) -> float:
        """A film in series with half the thickness, W/m²K."""
        return coefficient / (1 + coefficient * self.half)


@dataclass(frozen=True)
class Chip:
    """A part on the board: centre and side (mm), W, J/K, K/W to the board."""

    centre: Point
    side: float
    watts: float
    capacity: float
    resistance: float

    @property
    def corner(self) -> Point:
        """The low corner of its footprint, mm."""
        return self.centre[0] - self.side / 2, self.centre[1] - self.side / 2

    @property
    def area(self) -> float:
        """Footprint, m²."""
        return self.side**2 / 1e6


LAYERS = {
    "lid": Layer(2.0, 167, 167, 2.43e6, to_room=9, to_air=6),
    "board": Layer(1.6, 0.35, 0.35, 2.0e6, to_air=30),
    "base": Layer(3.0, 167, 167, 2.43e6, to_room=8),
}
PATCH_CORNER, PATCH_SIZE = (60, 50), (150, 90)  # mm, on the board
PATCH_CONDUCTIVITY, PATCH_HEAT_DENSITY = 390.0, 3.4e6
GAPS = {("board", "lid"): 3.0, ("board", "base"): 20.0}  # W/m²K of the face
CHIPS = {
    "processor": Chip((130, 100), 40, 18, 5, 0.5),
    "amplifier": Chip((180, 80), 20, 6, 2, 1.5),
    "memory": Chip((80, 120), 20, 2, 1.5, 3),
    "supply": Chip((250, 50), 20, 1.2, 4, 2),
    "clock": Chip((30, 160), 20, 0.3, 1, 5),
    "driver": Chip((260, 150), 20, 0.6, 1.2, 4),
}


def gap(between: tuple[str, str]) -> float:
    """A joint's conductance with half of either sheet in series, W/m²K."""
    first, second = (LAYERS[name] for name in between)
    return 1 / (1 / GAPS[between] + first.half + second.half)


def pair(point: Point) -> str:
    """Two lengths as a case states them."""
    return f"{point[0]:g}, {point[1]:g} mm"


def tables(cell_mm: float) -> dict[str, Any]:
    """The box as tables of a case file."""
    sheets = {
        name: {
            "corner": "0, 0 mm", "size": pair(SIZE), "thickness": f"{layer.thickness} mm",
            "conductivity": f"{layer.conductivity} W/mK", "conductivity_through": f"{layer.through} W/mK",
            "heat_density": f"{layer.heat_density} J/m3K",
        }
        for name, layer in LAYERS.items()
    }  # fmt: skip
    sheets["board"]["patch"] = {
        "copper": {
            "corner": pair(PATCH_CORNER), "size": pair(PATCH_SIZE), "conductivity": f"{PATCH_CONDUCTIVITY} W/mK",
            "conductivity_through": f"{LAYERS['board'].through} W/mK", "heat_density": f"{PATCH_HEAT_DENSITY} J/m3K",
        }
    }  # type: ignore[assignment]  # fmt: skip
    parts = {
        name: {
            "on": "sheet.board", "centre": pair(chip.centre), "size": pair((chip.side, chip.side)),
            "watts": f"{chip.watts} W", "to_board": f"{chip.resistance} K/W", "heat_capacity": f"{chip.capacity} J/K",
        }
        for name, chip in CHIPS.items()
    }  # fmt: skip
    airway = {
        "corner": "0, 0 mm",
        "size": pair(SIZE),
        "height": f"{HEIGHT} mm",
        "flow": f"{FLOW} m3/h",
        "segments": SEGMENTS,
    }
    return {
        "case": {"title": "benchmark box", "invented": True},
        "room": {"temperature": f"{ROOM_DEGC} degC"},
        "run": {"duration": f"{END} s", "cell": f"{cell_mm} mm"},
        "sheet": sheets,
        "part": parts,
        "film": _films(),
        "joint": {
            f"{one}_{other}": {"between": [f"sheet.{one}", f"sheet.{other}"], "conductance": f"{value} W/m2K"}
            for (one, other), value in GAPS.items()
        },
        "airway": {"main": airway},
        "option": {"governed": _governed(), "no stream": _no_stream(), "sources": _sources()},
    }


def _films() -> dict[str, Any]:
    films = {}
    for name, layer in LAYERS.items():
        outside, inside = ("bottom", "top") if name == "base" else ("top", "bottom")
        if layer.to_room:
            films[f"{name}_room"] = {"face": outside, "h": f"{layer.to_room} W/m2K"}
        if layer.to_air:
            films[f"{name}_air"] = {"face": inside, "h": f"{layer.to_air} W/m2K", "to": "airway.main"}
        for key in (f"{name}_room", f"{name}_air"):
            if key in films:
                films[key] |= {"on": f"sheet.{name}", "law": "fixed"}
    return films


def _governed() -> dict[str, Any]:
    """A fan that holds the processor, and films that follow its flow: no longer linear."""
    changes: dict[str, Any] = {"airway.main.fans": ["fan.main"], "airway.main.resistance": "0.03 Pa/(m3/h)2"}
    for name, layer in LAYERS.items():
        if layer.to_air:
            film = f"film.{name}_air"
            changes |= {f"{film}.law": "scaled", f"{film}.at_flow": f"{FLOW} m3/h", f"{film}.exponent": 0.6}
            changes[f"{film}.still"] = "2 W/m2K"
    governor = {
        "sensor": "part.processor", "drives": ["fan.main"], "law": "hold", "set_point": "75 degC", "gain": "4 %/K",
        "reset": "100 s", "min_speed": "25 %",
    }  # fmt: skip
    fan = {"curve": ["0 m3/h, 60 Pa", "30 m3/h, 40 Pa", "60 m3/h, 0 Pa"]}
    return {
        "remove": ["airway.main.flow"],
        "add": {"fan": {"main": fan}, "governor": {"processor": governor}},
        "set": changes,
    }


def _no_stream() -> dict[str, Any]:
    """The air inside stays at the room's temperature, so that the matrix is symmetric."""
    to_room = {f"film.{name}_air.to": "room" for name, layer in LAYERS.items() if layer.to_air}
    return {"remove": ["airway.main"], "set": to_room}


def _sources() -> dict[str, Any]:
    """No stream, and the parts' heat put evenly into their footprints: sheets alone."""
    sources = {
        name: {
            "on": "sheet.board",
            "corner": pair(chip.corner),
            "size": pair((chip.side, chip.side)),
            "watts": f"{chip.watts} W",
        }
        for name, chip in CHIPS.items()
    }
    return {"base": "no stream", "remove": [f"part.{name}" for name in CHIPS], "add": {"source": sources}}


def box(unknowns: int, option: str | None = None) -> Case:
    """The box on the grid that comes nearest to so many unknowns."""
    ideal = 1e3 * sqrt(len(LAYERS) * SIZE[0] * SIZE[1] / 1e6 / unknowns)
    cases = (Case.from_dict(tables(round(ideal * scale, 5))) for scale in SCALES)
    return min(cases, key=lambda case: abs(_cells(make_grid(case.spec)) - unknowns)).with_option(option)


def _cells(grid: Grid) -> int:
    return len(LAYERS) * (grid.x.size - 1) * (grid.y.size - 1)


@dataclass(frozen=True)
class Plan:
    """What a peer needs: grid lines (m) and, cell by cell (rows y, columns x), the board's and sheets' properties.

    `plane`: W/K, `stored`: J/m²K, by sheet; `footprints`: the chips' cells as 0 or 1.
    """

    x: Floats
    y: Floats
    plane: dict[str, Floats]
    stored: dict[str, Floats]
    footprints: dict[str, Floats]


def plan(case: Case) -> Plan:
    """The box on the grid of a case, from the description alone."""
    grid = make_grid(case.spec)
    x, y = (1e3 * (lines[1:] + lines[:-1]) / 2 for lines in (grid.x, grid.y))

    def rectangle(corner: Point, size: Point) -> Floats:
        in_x, in_y = (abs(at - low - side / 2) < side / 2 for at, low, side in zip((x, y), corner, size, strict=True))
        inside: Floats = np.outer(in_y, in_x).astype(float)
        return inside

    copper = rectangle(PATCH_CORNER, PATCH_SIZE)
    plane, stored = {}, {}
    for name, layer in LAYERS.items():
        metres = layer.thickness / 1e3
        here = copper if name == "board" else np.zeros_like(copper)
        plane[name] = metres * (layer.conductivity + here * (PATCH_CONDUCTIVITY - layer.conductivity))
        stored[name] = metres * (layer.heat_density + here * (PATCH_HEAT_DENSITY - layer.heat_density))
    footprints = {name: rectangle(chip.corner, (chip.side, chip.side)) for name, chip in CHIPS.items()}
    return Plan(grid.x, grid.y, plane, stored, footprints)


def air(case: Case) -> tuple[float, float]:
    """Heat capacity of one segment of the airway (J/K), and of the stream a second (W/K), at the room's temperature."""
    state = dry_air(ROOM_DEGC, case.spec.room.air_pressure())
    volume = SIZE[0] * SIZE[1] * HEIGHT / 1e9 / SEGMENTS
    return state.density * state.cp * volume, state.density * state.cp * FLOW / 3600

"""What a random box is drawn on: choices from a seed, and a plan of whole cells with what has been laid so far."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, log
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")
Tables = dict[str, Any]


class Draw:
    """Random choices, the same ones for the same seed."""

    def __init__(self, seed: int) -> None:
        self._rng = np.random.default_rng(seed)

    def chance(self, share: float) -> bool:
        return bool(self._rng.random() < share)

    def between(self, low: float, high: float) -> float:
        return float(self._rng.uniform(low, high))

    def log(self, low: float, high: float) -> float:
        """Between two numbers, each decade as likely as the other."""
        return exp(self.between(log(low), log(high)))

    def whole(self, low: int, high: int) -> int:
        """A whole number, both ends included."""
        return int(self._rng.integers(low, high + 1))

    def pick(self, options: Sequence[T]) -> T:
        return options[int(self._rng.integers(len(options)))]

    def text(self, unit: str, low: float, high: float) -> str:
        """A quantity of a case file; numbers over two decades or more are drawn by decade."""
        wide = low > 0 and high / low >= 30
        return f"{(self.log if wide else self.between)(low, high):.4g} {unit}"


@dataclass(frozen=True)
class Area:
    """A rectangle of the plan, in cells from its corner."""

    column: int
    row: int
    width: int
    depth: int

    @property
    def cells(self) -> int:
        return self.width * self.depth

    def common(self, other: "Area") -> "Area | None":
        left, front = max(self.column, other.column), max(self.row, other.row)
        width = min(self.column + self.width, other.column + other.width) - left
        depth = min(self.row + self.depth, other.row + other.depth) - front
        return Area(left, front, width, depth) if width > 0 and depth > 0 else None

    def random_within(self, draw: Draw, width: int, depth: int) -> "Area":
        """A rectangle of this size, or as much of it as fits, somewhere within."""
        width, depth = min(width, self.width), min(depth, self.depth)
        column, row = draw.whole(0, self.width - width), draw.whole(0, self.depth - depth)
        return Area(self.column + column, self.row + row, width, depth)


@dataclass
class Layer:
    """A sheet as laid: where, how well it conducts in its plane (W/K), its holes, and the films on both faces."""

    area: Area
    spread: float
    cutouts: list[Area] = field(default_factory=list)
    film: float = 0.0  # W/m²K, roughly, of both faces


@dataclass
class Spot:
    """A part as laid: on which sheet, where, on which face."""

    on: str | None
    area: Area
    face: str = "top"
    ways: float = 0.0  # W/K, roughly, of all ways other than into its board
    watts: float = 0.0
    degc: float = 0.0  # roughly


@dataclass
class Plan:
    """A box in the making: tables as a case file would hold them, and what later choices need to know."""

    draw: Draw
    unit: float  # mm, of a cell
    whole: Area
    room: float
    seconds: float
    tables: dict[str, Tables] = field(default_factory=dict)
    layers: dict[str, Layer] = field(default_factory=dict)
    parts: dict[str, Spot] = field(default_factory=dict)
    streams: dict[str, float] = field(default_factory=dict)  # m³/h, roughly, of each airway
    branch: list[str] = field(default_factory=list)  # elements of the loop that can be closed alone

    def add(self, address: str, **table: Any) -> Tables:
        """A named table, such as `part.p1`; keys without a value are left out."""
        kind, name = address.split(".", 1)
        written = {key: value for key, value in table.items() if value is not None}
        self.tables.setdefault(kind, {})[name] = written
        return written

    def names(self, kind: str) -> list[str]:
        """Addresses of all tables of a kind."""
        return [f"{kind}.{name}" for name in self.tables.get(kind, {})]

    def place(self, area: Area) -> Tables:
        """Corner and size as written."""
        return {
            "corner": f"{area.column * self.unit:.6g}, {area.row * self.unit:.6g} mm",
            "size": f"{area.width * self.unit:.6g} x {area.depth * self.unit:.6g} mm",
        }

    def cells(self, low_mm: float, high_mm: float) -> int:
        """A random length in whole cells, one at least."""
        return max(1, round(self.draw.between(low_mm, high_mm) / self.unit))

    def square_metres(self, area: Area) -> float:
        return area.cells * (self.unit / 1000) ** 2

    def minutes(self, low: float, high: float) -> str:
        """A moment between two shares of the run."""
        return f"{self.draw.between(low, high) * self.seconds / 60:.4g} min"

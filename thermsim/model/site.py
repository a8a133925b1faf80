"""The case half built: what the element modules share while they add their nodes and links."""

from dataclasses import dataclass, field

import numpy as np

from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats, Ints
from thermsim.model.grid import Grid, unusable
from thermsim.model.links import Builder
from thermsim.model.sheets import SheetCells

Corner = tuple[float, float] | None


@dataclass(frozen=True)
class Ends:
    """Where a heat path ends: nodes, the area of each (m²) and its half-thickness resistance (m²K/W)."""

    node: Ints
    area: Floats
    half: Floats

    @property
    def share(self) -> Floats:
        """Each node's share of the area."""
        share: Floats = self.area / self.area.sum()
        return share


@dataclass(frozen=True)
class AirStream:
    """An airway's nodes in flow order and where it lies; `feed` is the node or place its air comes from."""

    feed: int
    nodes: Ints
    start: float
    length: float
    axis: int
    reversed: bool

    @property
    def outlet(self) -> int:
        """The last node over the plan; radiators at the airway's outlet come after it."""
        return int(self.nodes[-1])

    def node_at(self, x: Floats, y: Floats) -> Ints:
        """The air node over each point of the plan; points outside take the nearest."""
        along = ((x, y)[self.axis] - self.start) / self.length
        return self.node_along(1.0 - along if self.reversed else along)

    def node_along(self, fraction: Floats) -> Ints:
        """The air node at a fraction of the way from inlet (0) to outlet (1)."""
        count = self.nodes.size
        index = np.clip((np.asarray(fraction) * count).astype(int), 0, count - 1)
        found: Ints = self.nodes[index]
        return found


@dataclass
class Site:
    """Builder and lookup tables, filled in the order of build.py."""

    spec: Spec
    grid: Grid
    builder: Builder = field(default_factory=Builder)
    sheets: dict[str, SheetCells] = field(default_factory=dict)
    tops: dict[str, int] = field(default_factory=dict)
    streams: dict[str, AirStream] = field(default_factory=dict)
    chains: dict[str, Ints] = field(default_factory=dict)  # each airway's feed and all its nodes, in flow order
    bare: Builder | None = None  # as it stood when only the sheets were laid

    def ends(self, address: str, corner: Corner = None, size: Corner = None) -> Ends:
        """The nodes of `sheet.x`, `part.x` (its top), `wall.x`, `sink.x` or `block.x`; a rectangle narrows a sheet."""
        if address in self.sheets:
            sheet = self.sheets[address]
            where = sheet.inside(corner, size)
            if not where.any():
                raise unusable(address, "cutouts, or grid lines that were moved, leave nothing of a rectangle on it")
            return Ends(sheet.node[where], sheet.area[where], sheet.half[where])
        node = self.tops.get(address)
        if node is None:
            node = int(self.builder.names[address][0])
        return Ends(np.array([node]), np.array([self.lumped_area(address)]), np.zeros(1))

    @property
    def pressure(self) -> float:
        """Air pressure of the room, Pa."""
        return self.spec.room.air_pressure()

    def lumped_area(self, address: str) -> float:
        """Face area of a part or wall, m²; 1 where none is stated (only shares are then used)."""
        kind, name = address.split(".", 1)
        size = None
        if kind == "part":
            size = self.spec.part[name].size
        elif kind == "wall":
            size = self.spec.wall[name].size
        return size[0] * size[1] if size else 1.0

    def footprint(self, part: str) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """Corner and size of a part (`part.x`) in plan, if it sits on a sheet."""
        table = self.spec.part[part.removeprefix("part.")]
        if table.centre is None or table.size is None:
            return None
        (x, y), (width, depth) = table.centre, table.size
        return (x - width / 2, y - depth / 2), table.size

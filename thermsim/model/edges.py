"""Edges: what happens at a sheet's rim."""

import numpy as np

from thermsim.case.solid import Edge
from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import GivenHeat
from thermsim.model.radiating import radiating
from thermsim.model.sheets import SheetCells
from thermsim.model.site import Site


def add_edges(site: Site) -> dict[str, GivenHeat]:
    """Links of held or cooled rims; returns the rims with a stated heat flow, by address."""
    heats: dict[str, GivenHeat] = {}
    for name, edge in site.spec.edge.items():
        node, length, to_rim, thickness = rim(site.sheets[edge.on], edge.side, edge.stretch)
        area = length * thickness
        if edge.temperature is not None:
            held = np.full(node.size, site.builder.place(f"edge.{name}.temperature"))
            site.builder.link(f"edge.{name}", "edge", node, held, to_rim)
        elif edge.heat is not None:
            heats[f"edge.{name}"] = node, length / length.sum(), edge.heat
        elif edge.flux is not None:
            heats[f"edge.{name}"] = node, area / area.sum(), edge.flux * float(area.sum())
        else:
            _cool(site, name, edge, node, area, to_rim)
    return heats


def _cool(site: Site, name: str, edge: Edge, node: Ints, area: Floats, to_rim: Floats) -> None:
    """Film and radiation act on the rim itself, a massless node half a cell away from the cell's centre."""
    rim_node = site.builder.add_nodes(f"edge.{name} rim", np.zeros(node.size))
    place = site.builder.place("room" if edge.air is None else f"edge.{name} air")
    around = np.full(node.size, place)
    site.builder.link(f"edge.{name} rim", "conduction", node, rim_node, to_rim)
    if edge.h is not None:
        site.builder.link(f"edge.{name}", "edge", rim_node, around, area * edge.h)
    if edge.emissivity is not None:
        law = radiating(edge.emissivity, rim_node, around)
        site.builder.link(f"edge.{name} radiation", "radiation", rim_node, around, area, law=law)


def rim(
    sheet: SheetCells, side: str, stretch: tuple[float, float] | None = None
) -> tuple[Ints, Floats, Floats, Floats]:
    """Cells along a side: nodes, rim lengths (m), conductances from centre to rim (W/K), thicknesses (m)."""
    along_y = side in ("left", "right")
    last = side in ("right", "back")
    lines, across = (sheet.y, sheet.x) if along_y else (sheet.x, sheet.y)
    pick = -1 if last else 0
    index = (slice(None), pick) if along_y else (pick, slice(None))
    sheet_k = sheet.sheet_x if along_y else sheet.sheet_y
    length = np.diff(lines)
    depth = np.diff(across)[pick]
    node = sheet.node[index]
    keep = node >= 0
    if stretch is not None:
        centre = (lines[1:] + lines[:-1]) / 2
        keep &= (centre > stretch[0]) & (centre < stretch[1])
    to_rim = sheet_k[index] * length / (depth / 2)
    return node[keep], length[keep], to_rim[keep], sheet.thickness[index][keep]

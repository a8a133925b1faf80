"""Joints, radiation between facing sheets, and heat pipes: heat paths between two solids."""

import numpy as np

from thermsim.case.solid import Joint
from thermsim.model.arrays import Floats, Ints
from thermsim.model.grid import unusable
from thermsim.model.radiating import radiating
from thermsim.model.sheets import SheetCells
from thermsim.model.site import Corner, Site
from thermsim.physics.films import two_surface_emissivity
from thermsim.physics.joints import joint_resistivity


def add_joints(site: Site) -> None:
    """One link group per joint."""
    for name, joint in site.spec.joint.items():
        first, second, area, half = _facing(site, joint.between, joint.corner, joint.size)
        if joint.resistance is not None:
            weight = area / area.sum() / joint.resistance
        else:
            scale = (joint.area or area.sum()) / area.sum()
            weight = area * scale / (_resistivity(joint) + half)
        site.builder.link(f"joint.{name}", "joint", first, second, weight)


def _resistivity(joint: Joint) -> float:
    if joint.resistivity is not None:
        return joint.resistivity
    if joint.conductance is not None:
        return 1 / joint.conductance
    assert joint.bond_line is not None  # the case was checked
    assert joint.conductivity is not None
    return joint_resistivity(joint.bond_line, joint.conductivity, joint.contact or 0.0)


def _facing(site: Site, between: tuple[str, str], corner: Corner, size: Corner) -> tuple[Ints, Ints, Floats, Floats]:
    """Node pairs of two solids that face each other, the area of each pair and their half thicknesses together."""
    first, second = between
    if first in site.sheets and second in site.sheets:
        return overlap(site.sheets[first], site.sheets[second], corner, size)
    if second in site.sheets:
        second, first = first, second
    lumped = site.ends(second)
    if first in site.sheets:
        if corner is None and second.startswith("part."):
            footprint = site.footprint(second)
            corner, size = footprint if footprint else (None, None)
        cells = site.ends(first, corner, size)
        return cells.node, np.full(cells.node.size, lumped.node[0]), cells.area, cells.half
    other = site.ends(first)
    return other.node, lumped.node, np.minimum(other.area, lumped.area), np.zeros(1)


def overlap(
    first: SheetCells, second: SheetCells, corner: Corner = None, size: Corner = None
) -> tuple[Ints, Ints, Floats, Floats]:
    """Cells of two sheets over one another: nodes of both, areas, half thicknesses together; each shape (n,)."""
    rows = slice(max(first.rows.start, second.rows.start), min(first.rows.stop, second.rows.stop))
    columns = slice(max(first.columns.start, second.columns.start), min(first.columns.stop, second.columns.stop))

    def window(sheet: SheetCells) -> tuple[slice, slice]:
        return (
            slice(rows.start - sheet.rows.start, max(rows.start, rows.stop) - sheet.rows.start),
            slice(columns.start - sheet.columns.start, max(columns.start, columns.stop) - sheet.columns.start),
        )

    in_first, in_second = window(first), window(second)
    both = first.inside(corner, size)[in_first] & second.inside(None, None)[in_second]
    if not both.any():
        raise unusable(f"{first.name} and {second.name}", "cutouts, or grid lines that were moved, leave no overlap")
    return (
        first.node[in_first][both],
        second.node[in_second][both],
        first.area[in_first][both],
        first.half[in_first][both] + second.half[in_second][both],
    )


def add_radiation(site: Site) -> None:
    """Radiation between facing sheets, cell by cell, with the fourth-power law made a coefficient."""
    for name, pair in site.spec.radiation.items():
        first, second, area, _ = _facing(site, pair.between, None, None)
        exchange = two_surface_emissivity(*pair.emissivity)

        site.builder.link(f"radiation.{name}", "radiation", first, second, area, law=radiating(exchange, first, second))


def add_heat_pipes(site: Site) -> None:
    """Each pipe (or bundle) is a massless vapour node with half the resistance to either end."""
    for name, pipe in site.spec.heat_pipe.items():
        vapour = site.builder.add_node(f"heat_pipe.{name}", 0.0)
        for end in pipe.between:
            ends = site.ends(end, pipe.corner, pipe.size)
            site.builder.link(
                f"heat_pipe.{name} at {end}", "heat pipe", ends.node, np.full(ends.node.size, vapour),
                ends.share * 2 * pipe.count / pipe.resistance,
            )  # fmt: skip

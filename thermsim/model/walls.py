"""Walls of the box: one node each, joined to the rims of lid and floor."""

import numpy as np

from thermsim.case.materials import material
from thermsim.model.edges import rim
from thermsim.model.site import Site


def add_walls(site: Site) -> None:
    """A wall's heat capacity, and its links to the rims of the two sheets it joins."""
    for name, wall in site.spec.wall.items():
        made_of = material(wall.material, site.spec.material)
        run, height = wall.size
        capacity = made_of.density * made_of.cp * run * height * wall.thickness
        node = site.builder.add_node(f"wall.{name}", capacity)
        for address in wall.joins:
            cells, length, to_rim, _ = rim(site.sheets[address], wall.side)
            # half the sheet's edge cell, then half the wall's height
            to_middle = made_of.conductivity * wall.thickness * length / (height / 2)
            site.builder.link(
                f"wall.{name} to {address}", "conduction", cells, np.full(cells.size, node),
                1 / (1 / to_rim + 1 / to_middle),
            )  # fmt: skip

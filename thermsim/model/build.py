"""From a case to its model; the order here is the order in which elements may refer to each other.

A new cooling element gets its own module with an `add_…` function, and a line here.
"""

import numpy as np

from thermsim.case.case import Case
from thermsim.model.airways import add_airways
from thermsim.model.edges import add_edges
from thermsim.model.films import add_films
from thermsim.model.grid import make_grid, unusable
from thermsim.model.joints import add_heat_pipes, add_joints, add_radiation
from thermsim.model.loops import add_loops
from thermsim.model.operating import Operating
from thermsim.model.parts import add_parts
from thermsim.model.program import Program
from thermsim.model.sheets import Laid, add_sheet
from thermsim.model.sinks import add_sinks
from thermsim.model.site import Site
from thermsim.model.size import refuse_absurd
from thermsim.model.sources import add_sources
from thermsim.model.system import Model
from thermsim.model.walls import add_walls

SHEETS = ("sheet", "plate")


def build(case: Case) -> Model:
    """Lay out every element of a case as nodes, places and links. Raises `CaseError` where that would not fit."""
    spec = case.spec
    site = Site(spec, make_grid(spec))
    refuse_absurd(spec, site.grid)
    for kind in SHEETS:
        for name, sheet in getattr(spec, kind).items():
            address = f"{kind}.{name}"
            site.sheets[address] = add_sheet(site.builder, spec, site.grid, address, sheet)
    return _complete(case, site)


def rebuild(model: Model, case: Case) -> Model | None:
    """The model of a case with the sheets and grid of one already built; None if those have other shapes.

    A sheet of another make is laid anew; the others are taken as they are.
    """
    old, new = model.case.spec, case.spec
    if any(list(getattr(old, kind)) != list(getattr(new, kind)) for kind in SHEETS):
        return None
    grid = make_grid(new)
    if not np.array_equal(grid.x, model.site.grid.x) or not np.array_equal(grid.y, model.site.grid.y):
        return None
    assert model.site.bare is not None
    site = Site(new, grid, model.site.bare.copy(), model.site.sheets)
    if any(getattr(old, kind) != getattr(new, kind) for kind in (*SHEETS, "material")):
        anew = _laid_anew(model, site)
        return None if anew is None else _complete(case, anew)
    return _complete(case, site)


def _laid_anew(model: Model, site: Site) -> Site | None:
    """A site with those sheets laid anew that are of another make; None where one has other cells."""
    old, new = model.case.spec, site.spec
    conduction = {group.name: group for group in site.builder.groups}
    laid = Site(new, site.grid)
    for address, cells in model.site.sheets.items():
        kind, name = address.split(".", 1)
        sheet, links = getattr(new, kind)[name], conduction.get(f"{address} conduction")
        if sheet == getattr(old, kind)[name] and old.material == new.material:
            laid.builder.add_nodes(address, model.capacity[site.builder.names[address]])
            laid.builder.groups += [links] if links else []
            laid.sheets[address] = cells
        else:
            before = Laid(cells, links) if links else None
            laid.sheets[address] = add_sheet(laid.builder, new, site.grid, address, sheet, before)
        if not np.array_equal(laid.sheets[address].node, cells.node):
            return None
    return laid


def _complete(case: Case, site: Site) -> Model:
    """Everything besides the sheets."""
    spec = case.spec
    site.bare = site.builder.copy()
    add_walls(site)
    add_airways(site)
    add_parts(site)
    add_sinks(site)
    coolant_nodes = add_loops(site, [spec.mishap[name] for name in case.mishaps])
    add_films(site)
    add_joints(site)
    add_radiation(site)
    add_heat_pipes(site)
    heats = add_edges(site) | add_sources(site)
    site.builder.place("room")

    groups = site.builder.numbered()
    if not groups:
        raise unusable("", "there is nothing to work out: the case has no sheet, part or airway with a way to the room")
    total = site.builder.node_count + len(site.builder.places)
    feeds = {name: int(stream.feed) % total for name, stream in site.streams.items()}
    operating = Operating(spec, site.pressure, feeds, coolant_nodes)
    program = Program(spec, site.builder, heats, case.mishaps)
    return Model(
        case, site, np.concatenate(site.builder.capacities), groups, len(site.builder.places),
        operating, program, coolant_nodes,
    )  # fmt: skip

"""Sources: heat put evenly into a sheet or a rectangle of it."""

from thermsim.model.links import GivenHeat
from thermsim.model.site import Site


def add_sources(site: Site) -> dict[str, GivenHeat]:
    """What every source heats, by address; stated watts stay exact where grid lines were merged."""
    heats: dict[str, GivenHeat] = {}
    for name, source in site.spec.source.items():
        sheet = site.sheets[source.on]
        where = sheet.inside(source.corner, source.size)
        extent = sheet.area[where]
        if source.density is not None:
            extent = extent * sheet.thickness[where]
        per_extent = source.density if source.density is not None else source.flux
        watts = source.watts if source.watts is not None else (per_extent or 0.0) * float(extent.sum())
        heats[f"source.{name}"] = sheet.node[where], extent / extent.sum(), watts
    return heats

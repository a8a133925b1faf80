"""Sources: heat put evenly into a sheet or a rectangle of it."""

from thermsim.model.links import GivenHeat
from thermsim.model.site import Site


def add_sources(site: Site) -> dict[str, GivenHeat]:
    """What every source heats, by address; stated watts stay exact where grid lines were merged."""
    heats: dict[str, GivenHeat] = {}
    for name, source in site.spec.source.items():
        ends = site.ends(source.on, source.corner, source.size)
        extent = ends.area
        if source.density is not None:
            sheet = site.sheets[source.on]
            extent = extent * sheet.thickness[sheet.inside(source.corner, source.size)]
        per_extent = source.density if source.density is not None else source.flux
        watts = source.watts if source.watts is not None else (per_extent or 0.0) * float(extent.sum())
        heats[f"source.{name}"] = ends.node, extent / extent.sum(), watts
    return heats

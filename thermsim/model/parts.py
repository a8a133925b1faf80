"""Parts: one node with watts and heat capacity, a resistance to its board and one to its top."""

import numpy as np

from thermsim.case.solid import HeatPipe, Joint
from thermsim.model.site import Site


def add_parts(site: Site) -> None:
    """A node per part, a massless top where `to_top` is not zero, and the link to the board under it."""
    for name, part in site.spec.part.items():
        address = f"part.{name}"
        body = site.builder.add_node(address, part.heat_capacity)
        top = body
        if part.to_top > 0 and _has_top_path(site, address):
            top = site.builder.add_node(f"{address} top", 0.0)
            site.builder.link(f"{address} to its top", "part", body, top, 1 / part.to_top)
        site.tops[address] = top
        footprint = site.footprint(address)
        if part.on and part.to_board and footprint:
            board = site.ends(part.on, *footprint)
            site.builder.link(
                f"{address} to its board", "part", np.full(board.node.size, body), board.node,
                board.share / part.to_board,
            )  # fmt: skip


def _has_top_path(site: Site, address: str) -> bool:
    spec = site.spec
    paths: list[Joint | HeatPipe] = [*spec.joint.values(), *spec.heat_pipe.values()]
    joined = [end for path in paths for end in path.between]
    return address in joined or any(film.on == address for film in spec.film.values())

"""What joins a plate to the box at each spot: joints to parts, films to its air, faces to its sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats
from thermsim.studies.place.box import BoxSide, tiles
from thermsim.studies.place.loop import LoopSide
from thermsim.studies.place.rules import Verdict
from thermsim.studies.settled import Settled

Link = tuple[Floats, Floats, float]  # shares of the box's ports, of the loop's, and the conductance, W/K


@dataclass(frozen=True)
class Facing:
    """What a plate's whole face meets wherever it lies: an airway or a sheet, W/m²K; `fine`: told apart by tiles."""

    address: str
    per_area: float
    fine: bool


@dataclass(frozen=True)
class Links:
    """Links of many spots, padded with none: shares (spots, links, ports), conductances (spots, links)."""

    box: Floats
    loop: Floats
    conductance: Floats


def facings(now: Settled, plate: str) -> list[Facing]:
    """Films, radiation and joints of a plate that are not to parts, as strong as they are in a steady state."""
    spec, address = now.case.spec, f"plate.{plate}"
    area = spec.plate[plate].size[0] * spec.plate[plate].size[1]
    far: dict[str, tuple[str, bool]] = {
        f"film.{name}": (film.to, False)
        for name, film in spec.film.items()
        if film.on == address and film.to.startswith("airway.")
    }
    for kind in ("radiation", "joint"):
        for name, table in getattr(spec, kind).items():
            if address in table.between:
                other = next(end for end in table.between if end != address)
                if other.startswith(("sheet.", "plate.")):
                    far[f"{kind}.{name}"] = other, kind == "joint"
    strengths = now.steady.strengths
    return [
        Facing(far[group.name][0], float(np.sum(strengths.get(k, 1.0) * group.weight)) / area, far[group.name][1])
        for k, group in enumerate(now.model.groups)
        if group.name in far
    ]


def links_of(verdict: Verdict, plate: str, box: BoxSide, loop: LoopSide, faces: Sequence[Facing]) -> list[Link]:
    """All links of a plate at one spot."""
    spot, found = verdict.spot, []
    half = loop.half(plate)
    for contact in verdict.contacts:
        own = spot.own_rectangle(contact.area)
        resistance = (contact.resistivity + half) / contact.area.area + box.case.spec.part[contact.part].to_top
        found.append((box.over_part(contact.part), loop.over(plate, own), 1 / resistance))
    whole = spot.outline
    for face in faces:
        for area in tiles(whole) if face.fine else [whole]:
            on_plate = loop.over(plate, spot.own_rectangle(area))
            if face.address.startswith("airway."):
                found.append(
                    (box.over_air(face.address.removeprefix("airway."), area), on_plate, face.per_area * area.area)
                )
            else:
                shares, common = box.over_sheet(face.address, area)
                if common > 0:
                    found.append((shares, on_plate, face.per_area * common))
    return found


def block_links(spec: Spec, box: BoxSide, loop: LoopSide) -> list[Link]:
    """Joints between the loop's blocks and parts: the same wherever the plate lies."""
    found = []
    for joint in spec.joint.values():
        for one, other in (joint.between, joint.between[::-1]):
            if one in loop.blocks and other.startswith("part.") and joint.resistance is not None:
                part = other.removeprefix("part.")
                conductance = 1 / (joint.resistance + spec.part[part].to_top)
                found.append((box.over_part(part), loop.over_block(one), conductance))
    return found


def padded(lists: Sequence[Sequence[Link]], most: int | None = None) -> Links:
    """Lists of links as arrays of `most` links a spot; what it lacks is a link of no conductance."""
    first = next(links[0] for links in lists if links)
    most = max(len(links) for links in lists) if most is None else most
    box, loop = np.zeros((len(lists), most, first[0].size)), np.zeros((len(lists), most, first[1].size))
    conductance = np.zeros((len(lists), most))
    for n, links in enumerate(lists):
        for k, (at_box, at_loop, value) in enumerate(links):
            box[n, k], loop[n, k], conductance[n, k] = at_box, at_loop, value
    return Links(box, loop, conductance)

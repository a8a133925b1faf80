"""What a plate may touch or bump into: parts on its sheet, what stands on or beside them, the walls."""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.case.rectangles import Rectangle, extent, outline
from thermsim.case.schema import Spec


@dataclass(frozen=True)
class Seat:
    """A part a plate might touch: outline in plan (m), height, and what stands on it already, if anything."""

    name: str
    area: Rectangle
    height: float
    crowned: str = ""


def seats_of(spec: Spec, on: str, plates: tuple[str, ...]) -> list[Seat]:
    """Parts on the top of a sheet with their heights, and what besides the searched plates stands on them."""
    found = []
    for name, part in spec.part.items():
        area = extent(spec, f"part.{name}")
        if part.on == on and part.face == "top" and area is not None:
            assert part.height is not None  # asked for before
            found.append(Seat(name, area, part.height, _crown(spec, name, plates)))
    return found


def beside(spec: Spec) -> dict[str, Rectangle]:
    """Parts with a place in plan that sit on no sheet: how high they reach is not known."""
    areas = {name: extent(spec, f"part.{name}") for name, part in spec.part.items() if part.on is None}
    return {name: area for name, area in areas.items() if area is not None}


def _crown(spec: Spec, part: str, plates: tuple[str, ...]) -> str:
    """What stands on a part already: a sink, block, heat pipe, or a plate that is not moved about."""
    address = f"part.{part}"
    for name, sink in spec.sink.items():
        if sink.on == address:
            return f"sink {name}"
    for name, pipe in spec.heat_pipe.items():
        if address in pipe.between:
            return f"heat pipe {name}"
    for joint in spec.joint.values():
        for one, other in (joint.between, joint.between[::-1]):
            if one == address and other.startswith(("sink.", "block.", "plate.")) and other not in plates:
                return str(other.replace(".", " "))
    return ""


def inside_of(spec: Spec) -> Rectangle:
    """The inside of the box in plan: within the walls if there is a lid, otherwise what the sheets span."""
    lid = spec.sheet.get("lid")
    if lid is not None and spec.wall:
        thick = max(wall.thickness for wall in spec.wall.values())
        whole = outline(lid)
        return Rectangle(whole.left + thick, whole.front + thick, whole.right - thick, whole.back - thick)
    areas = [outline(sheet) for sheet in spec.sheet.values()]
    lows, highs = [min(area[k] for area in areas) for k in (0, 1)], [max(area[k] for area in areas) for k in (2, 3)]
    return Rectangle(lows[0], lows[1], highs[0], highs[1])

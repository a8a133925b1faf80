"""What lies on a sheet in plan view: outlines of parts, and the plates over it. Lengths in metres."""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.case.schema import Spec

Rect = tuple[float, float, float, float]  # x0, y0, x1, y1


@dataclass(frozen=True)
class Outline:
    """A part seen on a sheet; `joined` when it sits elsewhere and only touches it, through a joint."""

    part: str
    rect: Rect
    joined: bool


def outlines(spec: Spec, address: str) -> list[Outline]:
    """Parts to draw on a sheet or plate: those that sit on it, then those joined to it."""
    pairs = [joint.between for joint in spec.joint.values()]
    pairs += [pipe.between for pipe in spec.heat_pipe.values()]
    touching = {end for pair in pairs if address in pair for end in pair}
    found = []
    for name, part in spec.part.items():
        on = part.on == address
        if part.centre is None or part.size is None or not (on or f"part.{name}" in touching):
            continue
        (x, y), (width, depth) = part.centre, part.size
        rect = x - width / 2, y - depth / 2, x + width / 2, y + depth / 2
        found.append(Outline(name, rect, not on))
    return sorted(found, key=lambda outline: outline.joined)


def plates_over(spec: Spec, address: str) -> list[str]:
    """Plates that touch a sheet, through a joint of their own or through the parts on it."""
    if address.startswith("plate."):
        return []
    here = {address, *(f"part.{name}" for name, part in spec.part.items() if part.on == address)}
    ends = [set(joint.between) for joint in spec.joint.values()]
    return [name for name in spec.plate if any(f"plate.{name}" in pair and pair & here for pair in ends)]

"""How much coolant a loop holds, and what is left of it, and where, when some is lost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from thermsim.case.running import Mishap
from thermsim.case.schema import Spec
from thermsim.case.solid import Plate
from thermsim.model.hydraulics import elements, path_length, read_path, tube_area

WETTED = 1e-3  # of its volume: what stays on the walls of an emptied element, so that no node is without heat capacity


@dataclass(frozen=True)
class Fill:
    """Shares of their volume that the reservoirs and all else of a loop still hold.

    The reservoir gives first; while it holds any, nothing else changes. Once it is empty the pump draws air and moves
    nothing, and what is lost further is taken to be missing evenly from the rest.
    """

    reservoir: float = 1.0
    elsewhere: float = 1.0
    runs_dry: bool = False

    def left_in(self, kind: str) -> float:
        """Share of its volume that an element of a kind still holds."""
        return max(self.reservoir if kind == "reservoir" else self.elsewhere, WETTED)


def fill_after(spec: Spec, loop: str, lost: float) -> Fill:
    """The fill of a loop that has lost a share of all its coolant."""
    if lost <= 0:
        return Fill()
    volumes = {address: coolant_volume(spec, address) for address in elements(read_path(spec.loop[loop].path))}
    held = sum(volume for address, volume in volumes.items() if address.startswith("reservoir."))
    rest = sum(volumes.values()) - held
    gone = lost * (held + rest)
    if gone < held:
        return Fill(reservoir=1 - gone / held)
    return Fill(0.0, 1 - (gone - held) / rest if rest > 0 else 0.0, runs_dry=True)


def lost_share(mishaps: Iterable[Mishap], loop: str) -> float:
    """The share of a loop's coolant that some mishaps lose together."""
    return min(sum(mishap.coolant_lost.get(loop, 0.0) for mishap in mishaps), 1.0)


def fills(spec: Spec, mishaps: Iterable[Mishap]) -> Mapping[str, Fill]:
    """The fill of every loop with some mishaps under way."""
    happening = tuple(mishaps)
    return {name: fill_after(spec, name, lost_share(happening, name)) for name in spec.loop}


def coolant_volume(spec: Spec, address: str) -> float:
    """Volume of coolant in an element of a loop when it is full, m³."""
    kind, _, name = address.partition(".")
    if kind == "plate":
        return groove_volume(spec.plate[name])
    if kind == "hose":
        return tube_area(spec.hose[name].bore) * spec.hose[name].length
    volume: float = getattr(spec, kind)[name].volume
    return volume


def groove_volume(plate: Plate) -> float:
    """Volume of a plate's channel, m³."""
    channel = plate.channel
    return sum(map(path_length, channel.grooves)) * channel.width * channel.depth

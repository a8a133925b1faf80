"""A plate laid somewhere; small things that all of a search write tables with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from thermsim.studies.place.hoses import Route
from thermsim.studies.place.layouts import Layout
from thermsim.studies.place.rules import Contact, Verdict
from thermsim.studies.place.spot import Spot

Raw = dict[str, Any]


@dataclass(frozen=True)
class Laid:
    """A plate by name, where it lies, what it touches and by which grooves the coolant passes it."""

    plate: str
    spot: Spot
    layout: Layout
    contacts: tuple[Contact, ...] = ()
    hoses: tuple[Route, ...] = ()

    @classmethod
    def by(cls, plate: str, verdict: Verdict, layout: Layout) -> Laid:
        """As a verdict has it."""
        return cls(plate, verdict.spot, layout, verdict.contacts, verdict.hoses)


def metres(*values: float) -> str:
    """Lengths as a case file has them."""
    return ", ".join(f"{value:.9g}" for value in values) + " m"


def flat(path: Sequence[Any]) -> list[str]:
    """All addresses of a path in order."""
    return [one for item in path for one in (flat(item) if isinstance(item, list) else [item])]

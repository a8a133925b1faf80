"""A value together with the correlation it came from, so that a study can show its assumptions."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Correlated:
    """A result (unit as the function's docstring says), the correlation's name, and the flow regime."""

    value: float
    name: str
    regime: str = ""

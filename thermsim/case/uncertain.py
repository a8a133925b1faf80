"""The table of inputs that are not known well."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import model_validator

from thermsim.case.fields import Names, Table

DistributionLaw = Literal["normal", "uniform", "triangular", "lognormal"]
CUT = 3.0  # standard deviations: no draw of a normal or lognormal input lies further out


class Uncertain(Table):
    """An input that is not known well, or several that move together.

    `spread` about the case's value: "30 %" of it, or so many kelvin, watts…: two standard deviations of a normal
    law, the ends of the others; for lognormal the factor 1 + spread is two. Or `low` and `high`, likewise.
    """

    of: Names
    spread: str | float | None = None
    low: str | float | None = None
    high: str | float | None = None
    law: DistributionLaw = "normal"

    @model_validator(mode="after")
    def _stated_once(self) -> Self:
        if not self.of:
            raise ValueError('`of` names no input, such as "joint.paste.resistance"')
        if (self.spread is None) == (self.low is None and self.high is None):
            raise ValueError('needs either a spread, such as "30 %" or "2 K", or both low and high')
        if self.spread is None and (self.low is None or self.high is None):
            raise ValueError("needs low and high together")
        return self

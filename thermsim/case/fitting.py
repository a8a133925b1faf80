"""The `[fit]` table: what is matched to the runs on the bench, and what is held out to see whether it holds."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from thermsim.case.fields import Names, Table, Time

NONE = "none"  # in place of a run or probe: hold none out


class FitBound(Table):
    """How far an unknown may go: in its own unit, or as a share of the case's value, such as "30 %"."""

    low: str | float | None = None
    high: str | float | None = None


class HoldOut(Table):
    """What the fit does not see: a temperature channel of every run, and one whole run; "none" for neither."""

    probe: str | None = None
    run: str | None = None


class Fit(Table):
    """Which inputs are matched to the logs: names of `[uncertain]` tables, or addresses."""

    unknowns: Names = ()  # default: joints, films, radiation, conductivities among [uncertain]
    also_watts: bool = False  # known watts stay as they are unless this is said
    hold_out: HoldOut = Field(default_factory=HoldOut)
    bound: dict[str, FitBound] = Field(default_factory=dict)
    name: Annotated[str, Field(min_length=1)] = "fitted"  # of the options that are written
    step: Time | None = None  # over which readings are averaged; default: 1/240 of the longest run

"""The `[leak]` table: a pressure-decay test of a loop, and what it is judged by."""

from functools import partial
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from thermsim import units
from thermsim.case.benching import Layout
from thermsim.case.fields import Difference, LeakRate, Moment, Names, Pressure, Volume


def _one_or_more(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


Readings = Annotated[  # Pa and °C
    tuple[tuple[float, float], ...],
    BeforeValidator(partial(units.points, dimensions=("pressure", "temperature"))),
    BeforeValidator(_one_or_more),
]
Times = Annotated[
    tuple[Annotated[float, Field(gt=0)], ...],
    BeforeValidator(partial(units.many, read=partial(units.quantity, dimension="time"))),
    BeforeValidator(_one_or_more),
]


class Leak(Layout):
    """A pressure-decay test of a loop: two readings or a log of each time it was held, and how well all is known.

    Columns are `pressure`, `temperature` and, for a gauge, `atmosphere`. Uncertainties are standard ones (k = 1).
    """

    volume: Volume | None = None  # of all that holds the test's air, gauge and hoses with it
    volume_uncertainty: Volume | None = None
    gauge: bool = False  # readings are over the atmosphere
    atmosphere: Pressure | None = None  # measured when the test began
    atmosphere_after: Pressure | None = None  # and when it ended
    resolution: Pressure | None = None  # of the gauge: its last digit
    gauge_uncertainty: Pressure | None = None  # of one reading against another: repeatability, drift
    temperature_uncertainty: Difference = 0.1  # K, half width of an even spread; common practice, no source
    limit: LeakRate | None = None  # what is accepted
    soak: Moment | None = None  # left out at the beginning of a log
    first: Readings = ()
    last: Readings = ()
    after: Times = ()
    logs: Names = ()  # beside the case file, in the order of the tests

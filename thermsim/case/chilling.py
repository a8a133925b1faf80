"""The `[chill]` table: which airway is fed colder air, and from where to where."""

from typing import Annotated

from pydantic import Field

from thermsim.case.fields import AirwayName, Difference, Table, Temperature


class Chill(Table):
    """A sweep of the inlet temperature: what chilled air alone would achieve."""

    airway: AirwayName | None = None
    low: Temperature | None = None
    high: Temperature | None = None
    steps: Annotated[int, Field(ge=2, le=200)] = 12
    dew_margin: Difference = 2.0  # K, customary; common practice, no source

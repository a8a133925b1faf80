"""The `[decide]` table: what the cheap steps are measured against, what counts how much, and in which states."""

from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from thermsim import units
from thermsim.case.fields import Difference, LevelDifference, Names, Table

STEADY = "steady"


def _read_course(value: Any) -> Any:
    if value == STEADY:
        return value
    try:
        return units.quantity(value, "time")
    except units.UnitError as error:
        raise units.UnitError(f'expected "{STEADY}" or a time after the run\'s own state; {error}') from None


Weight = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Course = Annotated[float | str, BeforeValidator(_read_course)]


class Decide(Table):
    """How options are told apart: shares of the liquid benefit, then must-haves, then weights."""

    liquid: Names = ()
    cheap: Names = ()
    uncertainty: Difference = 0.5  # K, of one temperature compared with another: common practice, no source
    noise_uncertainty: LevelDifference = 1.0  # dB, likewise
    weights: dict[str, Weight] = Field(default_factory=dict)
    states: dict[str, Course] = Field(default_factory=dict)

"""The `[decide]` table: what the cheap steps are measured against, what counts how much, and in which states."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BeforeValidator, Field

from thermsim import units
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.fields import Difference, LevelDifference, Names, Table

if TYPE_CHECKING:
    from thermsim.case.schema import Spec

STEADY = "steady"
MERITS = ("margin", "noise", "drift", "warm_up", "watts")  # and whatever the options' `effort` names


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


def named_states(spec: "Spec") -> list[str]:
    """Operating states that the watts of every part know which has any, in order."""
    told = [part.watts for part in spec.part.values() if isinstance(part.watts, dict)]
    return [state for state in (told[0] if told else ()) if all(state in watts for watts in told)]


def check_deciding(spec: "Spec") -> Iterator[Finding]:
    """Options, merits and states that `[decide]` names are there."""
    decide = spec.decide
    yield from _options(spec)
    merits = [*MERITS, *dict.fromkeys(key for option in spec.option.values() for key in option.effort)]
    for name in decide.weights:
        if name not in merits:
            hint = nearest(name, merits) or f"; there are {', '.join(merits)}, and what the effort of options names"
            yield ("decide", "weights", name), f'there is no merit "{name}"{hint}'
    if decide.weights and not any(decide.weights.values()):
        yield ("decide", "weights"), "all weights are zero"
    states = named_states(spec) or [spec.run.state]
    for name, course in decide.states.items():
        at: KeyPath = ("decide", "states", name)
        if name not in states:
            hint = nearest(name, states) or f"; there are {', '.join(states)}"
            yield at, f'not every part has watts for state "{name}"{hint}'
        elif isinstance(course, float) and course <= 0:
            yield at, f'must be "{STEADY}" or a time above 0 s'


def _options(spec: "Spec") -> Iterator[Finding]:
    decide = spec.decide
    for key in ("liquid", "cheap"):
        for number, name in enumerate(getattr(decide, key)):
            at: KeyPath = ("decide", key, number)
            if name not in spec.option:
                yield at, f'there is no option "{name}"{nearest(name, spec.option)}'
            elif spec.option[name].mishaps:
                yield at, f'option "{name}" is a mishap; name the option without it'
            elif key == "cheap" and name in decide.liquid:
                yield at, f'"{name}" is named as liquid already'

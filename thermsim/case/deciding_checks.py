"""Options, merits and states that `[decide]` names are there."""

from collections.abc import Iterator

from thermsim.case.deciding import STEADY
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.schema import Spec

MERITS = ("margin", "noise", "drift", "warm_up", "watts")  # and whatever the options' `effort` names


def named_states(spec: Spec) -> list[str]:
    """Operating states that the watts of every part know which has any, in order."""
    told = [part.watts for part in spec.part.values() if isinstance(part.watts, dict)]
    return [state for state in (told[0] if told else ()) if all(state in watts for watts in told)]


def check_deciding(spec: Spec) -> Iterator[Finding]:
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


def _options(spec: Spec) -> Iterator[Finding]:
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

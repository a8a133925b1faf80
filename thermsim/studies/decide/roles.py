"""What each option is to the decision: a cheap step, the liquid they are measured against, another design, or none."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from thermsim.case.case import Case
from thermsim.case.schema import Spec

Role = Literal["base", "cheap", "liquid", "other", "conditions", "mishap"]
DESIGNS: tuple[Role, ...] = ("base", "cheap", "liquid", "other")
BASE = "base"  # what the base case is called among options
THE_BOX = (
    "material", "sheet", "plate", "wall", "part", "source", "joint", "film", "radiation", "edge", "heat_pipe",
    "airway", "fan", "sink", "loop", "pump", "hose", "radiator", "block", "reservoir", "governor",
)  # fmt: skip


def roles(cases: Mapping[str, Case]) -> dict[str, Role]:
    """The role of every option by name, the base case ("base") among them.

    An option with the very box of another under other conditions (room, operating state, duration) is no design of
    its own. What `[decide]` names is what it says; else an option with a loop that the base case has not is liquid,
    and one without loop and heat pipes a cheap step.
    """
    decide = cases[BASE].spec.decide
    found: dict[str, Role] = {}
    for name, case in cases.items():
        if name == BASE:
            found[name] = "base"
        elif case.mishaps:
            found[name] = "mishap"
        elif name in decide.liquid:
            found[name] = "liquid"
        elif name in decide.cheap:
            found[name] = "cheap"
        elif any(found.get(other) in DESIGNS and same_box(case.spec, cases[other].spec) for other in cases):
            found[name] = "conditions"
        else:
            found[name] = _by_build(case.spec, cases[BASE].spec)
    return found


def _by_build(spec: Spec, base: Spec) -> Role:
    """What an option is by what it is made of, where `[decide]` does not say."""
    if spec.loop and not base.loop:
        return "other" if base.decide.liquid else "liquid"
    return "other" if spec.loop or spec.heat_pipe or base.decide.cheap else "cheap"


def same_box(one: Spec, other: Spec) -> bool:
    """Whether two options are the same thing under other conditions."""
    return all(getattr(one, kind) == getattr(other, kind) for kind in THE_BOX)


def named(roles: Mapping[str, Role], *wanted: Role) -> list[str]:
    """Options with one of these roles, in order."""
    return [name for name, role in roles.items() if role in wanted]

"""A case as it is swept: its duties held still and in the run's own state, for where it settles must be one thing."""

from __future__ import annotations

from thermsim import units
from thermsim.case.case import Case
from thermsim.case.deciding_checks import named_states
from thermsim.case.lines import dotted
from thermsim.model.program import value_of


def held(case: Case) -> Case:
    """The case in the run's own state, its other duties held as they are at the end of the run."""
    changes: dict[str, str | None] = {}
    for name, duty in case.spec.duty.items():
        changes[dotted(("duty", name))] = None
        value = value_of(duty, case.spec.run.duration)
        if not isinstance(value, str):
            dimension = "power" if duty.of.endswith(".watts") else "temperature"
            changes[duty.of] = f"{value:.10g} {units.base_unit(dimension)}"
    return case.with_changes(changes) if changes else case


def what_is_held(case: Case) -> list[str]:
    """What of a case a settled state leaves out, in words."""
    spec, found = case.spec, []
    duties = [duty.of for duty in spec.duty.values() if duty.of != "state"]
    if duties:
        found.append(f"held as at the end of the run: {', '.join(duties)}")
    others = [state for state in named_states(spec) if state != spec.run.state]
    if others:
        found.append(f'settled in state "{spec.run.state}"; for {" or ".join(others)} use --set run.state={others[0]}')
    later = [name for name in case.mishaps if spec.mishap[name].at > 0]
    if later:
        found.append(f"settled before {' and '.join(later)} happens; `thermsim mishap` tells what comes of it")
    return found

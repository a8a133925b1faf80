"""Do the unknowns, bounds and held-out logs that `[fit]` names make sense?"""

from collections.abc import Iterator

from thermsim.case.channels import is_temperature, wrong_channel
from thermsim.case.errors import Finding, nearest
from thermsim.case.fitting import NONE
from thermsim.case.schema import Spec
from thermsim.case.targets import targets


def check_fitting(spec: Spec) -> Iterator[Finding]:
    """Unknowns are there and numbers; what is held out was logged."""
    for number, name in enumerate(spec.fit.unknowns):
        message = wrong_unknown(spec, name)
        if message:
            yield ("fit", "unknowns", number), message
    for name, bound in spec.fit.bound.items():
        message = wrong_unknown(spec, name)
        if message is None and spec.fit.unknowns and name not in spec.fit.unknowns:
            message = f"is none of the unknowns{nearest(name, spec.fit.unknowns)}"
        if message is None and bound.low is None and bound.high is None:
            message = "give low or high"
        if message:
            yield ("fit", "bound", name), message
    probe, run = spec.fit.hold_out.probe, spec.fit.hold_out.run
    if probe not in (None, NONE):
        message = wrong_channel(spec, str(probe)) or (None if is_temperature(str(probe)) else "is no temperature")
        if message:
            yield ("fit", "hold_out", "probe"), message
    if run not in (None, NONE, *spec.bench.run):
        hint = nearest(str(run), spec.bench.run) or (
            f"; there is {', '.join(spec.bench.run)}" if spec.bench.run else ""
        )
        yield ("fit", "hold_out", "run"), f'there is no run "{run}"{hint}'


def wrong_unknown(spec: Spec, name: str) -> str | None:
    """What is wrong with the name or address of an unknown; None if nothing is."""
    if name in spec.uncertain:
        return None
    if "." not in name:
        return f'there is no [uncertain."{name}"]{nearest(name, spec.uncertain)}'
    try:
        targets(spec, name)
    except ValueError as error:
        return str(error)
    return None

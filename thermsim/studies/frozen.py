"""A case with its governors taken out and what they drove left at given speeds.

A governor hides what a trial does to the part it holds; with the speed frozen the trial shows in temperatures.
"""

from __future__ import annotations

from collections.abc import Mapping

from thermsim.case.case import Case
from thermsim.case.lines import dotted


def is_governed(case: Case) -> bool:
    """Whether any governor moves a fan or pump."""
    return bool(case.spec.governor)


def frozen(case: Case, speeds: Mapping[str, float]) -> Case:
    """The case without governors; what they drove runs at `speeds` (relative to rated, by address: `fan.pair`).

    A device that `speeds` does not name keeps the speed of its table.
    """
    spec = case.spec
    driven = {device for governor in spec.governor.values() for device in governor.drives}
    changes: dict[str, str | None] = {dotted(("governor", name)): None for name in spec.governor}
    for device in sorted(driven & speeds.keys()):
        changes[dotted((*device.split(".", 1), "speed"))] = f"{100 * speeds[device]:.6f} %"
    return case.with_changes(changes)

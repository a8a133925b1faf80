"""What a governor's own sensor would show of a change: often nothing, while noise and other parts move.

A governed box by air and the same box by liquid may read alike for half an hour and differ in noise alone: common
practice, no source. Here it is told from the runs, either way.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermsim.store.result import Result
from thermsim.studies.decide.roles import BASE, Role, named

Facts = dict[str, Any]
ALIKE = 2.0  # uncertainties of a temperature comparison


def sensors_compared(results: Mapping[str, Result], roles: Mapping[str, Role]) -> list[Facts]:
    """Each governed part's reading in the base case's run beside that of every other design's."""
    if BASE not in results:
        return []
    base = results[BASE]
    spec = base.case.spec
    found = []
    for governor in spec.governor.values():
        kind, _, part = governor.sensor.partition(".")
        if kind != "part":
            continue
        for name in named(roles, "cheap", "liquid", "other"):
            if name in results and part in results[name].case.spec.part:
                apart = largest_difference(base, results[name], part)
                noise = [result.summary["noise"]["with_room_dba"] for result in (results[name], base)]
                found.append({
                    "part": part, "option": name, "largest_difference_k": apart,
                    "noise_difference_db": None if None in noise else noise[0] - noise[1],
                    "alike": apart <= ALIKE * spec.decide.uncertainty,
                })  # fmt: skip
    return found


def largest_difference(one: Result, other: Result, part: str) -> float:
    """How far a part's temperatures in two runs are ever apart in the second half of the time that both tell, K.

    The first half is left to the warm-up.
    """
    a, b = one.part(part), other.part(part)
    end = min(a.time[-1], b.time[-1])
    late = (a.time >= end / 2) & (a.time <= end)
    return float(np.abs(a.values[late] - np.interp(a.time[late], b.time, b.values)).max())

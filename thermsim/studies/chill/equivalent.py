"""At which inlet chilled air does what a liquid option does, part by part and for all of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.studies.chill.inlets import Course

Facts = dict[str, Any]
SAME = 1e-4  # K or dB: a held part that rests at its very limit keeps it


def equivalent(option: str, liquid: Facts, frozen: Course, live: Course) -> Facts:
    """What a liquid option's steady state reaches, and the warmest inlets at which air alone reaches it too.

    None stands for an inlet colder than any swept; parts already as cool at the warmest one swept are named.
    """
    told: Facts = {
        "option": option,
        "parts_degc": liquid["parts_degc"],
        "worst_part": liquid["worst_part"],
        "worst_margin_k": liquid["worst_margin_k"],
        "with_room_dba": liquid["with_room_dba"],
        "coldest_degc": liquid["coldest_degc"],
        "coldest_at": liquid["coldest_at"],
        "dew_margin_k": liquid["dew_margin_k"],
        "frozen": _reached(liquid, frozen),
        "live": _reached(liquid, live),
    }
    told["live"]["noise_degc"] = None
    if liquid["with_room_dba"] is not None and live.states[0]["with_room_dba"] is not None:
        louder = live.curve("with_room_dba") - liquid["with_room_dba"]
        told["live"]["noise_degc"] = highest_where(live.inlets, [louder])
    return told


def _reached(liquid: Facts, course: Course) -> Facts:
    shared = [name for name in course.states[0]["parts_degc"] if name in liquid["parts_degc"]]
    over = {name: course.part(name) - liquid["parts_degc"][name] for name in shared}
    inlets = course.inlets
    every = highest_where(inlets, list(over.values()))
    at = float(inlets[0]) if every is None else every
    excess = {name: float(np.interp(at, inlets, values)) for name, values in over.items()}
    deciding = max(excess, key=lambda name: excess[name], default=None)
    margins = course.states[0]["margins_k"]
    least = liquid["worst_margin_k"]
    lacking = [least - np.array([state["margins_k"][name] for state in course.states]) for name in margins]
    return {
        "parts": {name: highest_where(inlets, [values]) for name, values in over.items()},
        "at_any_inlet": [name for name, values in over.items() if (values <= SAME).all()],
        "all_parts_degc": every,
        "deciding_part": deciding,
        "deciding_excess_k": None if deciding is None else excess[deciding],
        "worst_margin_degc": highest_where(inlets, lacking) if margins and least is not None else None,
    }


def limits_kept_from(course: Course) -> float | None:
    """The warmest inlet at which every part keeps its limit, °C; None if at none swept, or if there are no limits."""
    names = course.states[0]["margins_k"]
    over = [-np.array([state["margins_k"][name] for state in course.states]) for name in names]
    return highest_where(course.inlets, over) if names else None


def highest_where(inlets: Floats, excess: Sequence[Floats]) -> float | None:
    """The highest inlet at which no curve is above zero, curves straight between inlets (rising, shape (n,)).

    None where there is none.
    """
    excess = [values - SAME for values in excess]
    if all(values[-1] <= 0 for values in excess):
        return float(inlets[-1])
    for right in range(inlets.size - 1, 0, -1):
        low, high = 0.0, 1.0  # shares of the way from left to right that are left
        for values in excess:
            first, last = float(values[right - 1]), float(values[right])
            if first > 0 and last > 0:
                low, high = 1.0, 0.0
            elif first > 0:
                low = max(low, first / (first - last))
            elif last > 0:
                high = min(high, first / (first - last))
        if low <= high:
            return float(inlets[right - 1] + high * (inlets[right] - inlets[right - 1]))
    return None


def lowest_dry(course: Course, dew_degc: float, margin_k: float) -> float | None:
    """The lowest inlet from which on the coldest place stays so far above the dew point; None if none swept does."""
    wet = margin_k - (course.curve("coldest_degc") - dew_degc)
    mirrored = highest_where(-course.inlets[::-1], [wet[::-1]])
    return None if mirrored is None else -mirrored

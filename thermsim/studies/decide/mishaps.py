"""What the mishaps of a case's options come to in a comparison: the first limit, and how long after."""

from __future__ import annotations

from typing import Any

from thermsim.store.result import Result
from thermsim.studies.mishap.troubles import Trouble

Facts = dict[str, Any]


def what_happens(result: Result) -> Facts:
    """When a run's mishaps begin and what they are, the first part over its limit, and how long after, if one is."""
    over = {name: at for name, part in result.summary["parts"].items() if (at := part["over_limit_at_s"]) is not None}
    first = min(over, key=lambda name: over[name], default=None)
    mishaps = {name: result.case.spec.mishap[name] for name in result.case.mishaps}
    at = min(mishap.at for mishap in mishaps.values())
    return {
        "text": "; ".join(Trouble.of_file(name, mishap).text for name, mishap in mishaps.items()),
        "at_s": at,
        "first_over": first,
        "after_s": over[first] - at if first is not None else None,
    }


def mishap_lines(told: Facts) -> list[str]:
    """What mishaps do to the designs they are told of."""
    mishaps = told["mishaps"]
    if not mishaps:
        return []
    found = [
        f"“{name}” ({facts['first_over'].replace('_', ' ')}, {_when(facts)})"
        for name, facts in mishaps.items()
        if facts["first_over"] is not None
    ]
    if not found:
        return [f"In none of {len(mishaps)} mishaps does a part pass its limit."]
    harmless = len(mishaps) - len(found)
    more = f"; in {harmless} more none does" if harmless else ""
    return [f"Mishaps that put a part over its limit: {', '.join(found)}{more}."]


def _when(facts: Facts) -> str:
    """How long after the mishap; after switch-on where it was there from the start."""
    after = facts["after_s"] / 60
    if after < 0:
        return "even before"
    return f"{after:.0f} min on" if facts["at_s"] > 0 else f"{after:.0f} min after switch-on, {facts['text']}"

"""One limit of the model as plain facts, and many of them told together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

Limit = dict[str, Any]  # name, where (addresses), text, weight, numbers; options where several are told together

NO_WAY_OUT = "heat has no way out"
BOILING = "coolant may boil"
FREEZING = "coolant may freeze"
PIPE_OVER = "heat pipe over its capacity"
HOT_AIR = "air hotter than a part's limit"
CONDENSATION = "condensation"
RESTLESS = "governors never rest"
NOT_SETTLED = "not settled at the end"
PIPE_NEAR = "heat pipe near its capacity"
COARSE = "cells or steps too coarse"
THICK_PLATE = "thick plate under a small source"
BOARD = "board under a small source"
TRANSITION = "flow in transition"
SHORT = "short passage"
OUT_OF_RANGE = "correlation out of its range"
MERGED = "grid lines merged"
# the gravest first
ORDER = (
    NO_WAY_OUT, BOILING, FREEZING, PIPE_OVER, HOT_AIR, CONDENSATION, RESTLESS, NOT_SETTLED, PIPE_NEAR, COARSE,
    THICK_PLATE, BOARD, TRANSITION, SHORT, OUT_OF_RANGE, MERGED,
)  # fmt: skip


def limit(name: str, where: Iterable[str], text: str, weight: float = 1.0, **numbers: float) -> Limit:
    """A limit: what it means, how much, what to do. `weight`: of two of a name the larger is the graver."""
    return {"name": name, "where": list(dict.fromkeys(where)), "text": text, "weight": weight, **numbers}


def in_order(limits: Iterable[Limit]) -> list[Limit]:
    """The gravest first."""
    return sorted(limits, key=lambda one: (ORDER.index(one["name"]), -one["weight"]))


def together(told: Mapping[str, Sequence[Limit]]) -> list[Limit]:
    """Limits of several options (or studies), each name once: the gravest of it, with all its places and `options`.

    `worst_in`: the option it is told of where options differ in what they say, else None.
    """
    found: dict[str, list[tuple[str, Limit]]] = {}
    for option, limits in told.items():
        for one in limits:
            found.setdefault(one["name"], []).append((option, one))
    return in_order(_merged(several) for several in found.values())


def _merged(several: Sequence[tuple[str, Limit]]) -> Limit:
    option, worst = max(several, key=lambda pair: pair[1]["weight"])
    where = list(dict.fromkeys(place for one in (worst, *(limit for _, limit in several)) for place in one["where"]))
    alike = len({one["text"] for _, one in several}) == 1
    names = [name for name, one in several for name in one.get("options", [name])]
    return worst | {
        "where": where,
        "options": list(dict.fromkeys(names)),
        "worst_in": None if alike else worst.get("worst_in") or option,
    }

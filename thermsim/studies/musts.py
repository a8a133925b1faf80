"""Must-haves: conditions that no other merit can buy off."""

from __future__ import annotations

from typing import Any

from thermsim import units
from thermsim.case.case import Case


def judge(case: Case, summary: dict[str, Any]) -> list[dict[str, Any]]:
    """Every part's limit and heat pipe's capacity, then the case's own: what was asked, what is, is it met.

    `met` is None where the summary cannot tell.
    """
    found = []
    for name, part in summary["parts"].items():
        if part["limit_degc"] is not None:
            verdict = _verdict(f"{name} limit", part["worst_degc"], "degC", at_most=part["limit_degc"])
            found.append(verdict | ({"met": False} if part["steady_at_end_degc"] is None else {}))
    for name, pipe in summary["heat_pipes"].items():
        margin, wanted = pipe["margin"], pipe["wanted_margin"]
        found.append(_verdict(f"heat pipe {name} margin", margin, "", at_least=wanted))
    for name, must in case.spec.must_have.items():
        value, dimension, unit = measure(must.of, summary)
        at_most = units.quantity(must.at_most, dimension) if must.at_most is not None else None
        at_least = units.quantity(must.at_least, dimension) if must.at_least is not None else None
        found.append(_verdict(name, value, unit, at_most, at_least))
    return found


def measure(of: str, summary: dict[str, Any]) -> tuple[float | None, str, str]:
    """The value a must-have is about, its dimension and unit."""
    if of == "noise":
        return summary["noise"]["with_room_dba"], "level", "dB(A)"
    if of == "dew margin":
        dew = summary["dew"]
        return (dew["margin_k"] if dew else None), "difference", "K"
    if of == "warm-up":
        return summary["warm_up"]["time_s"], "time", "s"
    part = summary["parts"][of.removeprefix("part.")]
    return part["worst_degc"], "temperature", "degC"


def _verdict(
    name: str, value: float | None, unit: str, at_most: float | None = None, at_least: float | None = None
) -> dict[str, Any]:
    met = None
    if value is not None:
        met = (at_most is None or value <= at_most) and (at_least is None or value >= at_least)
    return {"name": name, "value": value, "unit": unit, "at_most": at_most, "at_least": at_least, "met": met}

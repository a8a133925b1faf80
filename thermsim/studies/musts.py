"""Must-haves: conditions that no other merit can buy off."""

from __future__ import annotations

from math import inf
from typing import Any

from thermsim.case.case import Case
from thermsim.case.duties import must_have_limits
from thermsim.solve.noise import left_out, unstated
from thermsim.studies.words import told_apart

Verdict = dict[str, Any]
NEVER_STEADY = "nothing moves its heat, and it rises without end"
# what a must-have may be about: unit it is shown in, and how many of them make one SI unit
SHOWN = {
    "noise": ("dB(A)", 1.0), "dew margin": ("K", 1.0), "warm-up": ("s", 1.0), "height": ("mm", 1e3), "mass": ("g", 1e3),
}  # fmt: skip
IN_ANY_STATE = ("noise", "dew margin")


def judge(case: Case, summary: dict[str, Any]) -> list[Verdict]:
    """Every part's limit and heat pipe's capacity, then the case's own: what was asked, what is, is it met.

    `met` is None where the summary cannot tell, and `why` says why not.
    """
    found = part_verdicts(case, {name: part["worst_degc"] for name, part in summary["parts"].items()})
    for verdict, name in zip(found, limited(case), strict=True):
        if summary["parts"][name]["steady_at_end_degc"] is None:
            verdict |= {"met": False, "why": NEVER_STEADY}
    for name, pipe in summary["heat_pipes"].items():
        found.append(pipe_verdict(name, pipe["margin"], pipe["wanted_margin"]))
    for name, must in case.spec.must_have.items():
        value, why = measure(must.of, summary)
        verdict = own_verdict(case, name, value, why)
        if must.of == "warm-up" and value is None and (verdict["at_most"] or inf) <= summary["simulated_s"]:
            verdict |= {"met": False}
        found.append(verdict)
    return found


def limited(case: Case) -> list[str]:
    """Parts that have a limit."""
    return [name for name, part in case.spec.part.items() if part.limit is not None]


def part_verdicts(case: Case, worst: dict[str, float]) -> list[Verdict]:
    """Whether parts keep their limits at these temperatures, °C."""
    return [
        _verdict(f"{name} limit", "limit", worst[name], "degC", at_most=case.spec.part[name].limit) | {"part": name}
        for name in limited(case)
    ]


def pipe_verdict(name: str, margin: float | None, wanted: float) -> Verdict:
    """Whether heat pipes carry their load with the wanted margin."""
    return _verdict(f"heat pipe {name} margin", "heat pipe", margin, "", at_least=wanted, why="it carries no heat")


def own_verdict(case: Case, name: str, value: float | None, why: str = "") -> Verdict:
    """One of the case's own must-haves at a value in SI (°C)."""
    must = case.spec.must_have[name]
    unit, factor = SHOWN.get(must.of, ("degC", 1.0))
    at_most, at_least = (None if limit is None else factor * limit for limit in must_have_limits(must))
    shown = None if value is None else factor * value
    verdict = _verdict(name, must.of, shown, unit, at_most, at_least, why)
    silent = unstated(case.spec) if must.of == "noise" and value is not None else []
    return verdict | _of_a_part(verdict, left_out(silent)) if silent else verdict


def _of_a_part(verdict: Verdict, why: str) -> Verdict:
    """What can be said of a level that leaves something out, which may be louder in truth but never quieter."""
    is_over = verdict["at_most"] is not None and verdict["value"] > verdict["at_most"]
    return {"met": False if is_over else None, "why": why}


def is_sampled(verdict: Verdict) -> bool:
    """Whether a steady state alone tells this must-have, so that samples of uncertain inputs tell it anew."""
    return verdict["of"] in ("limit", "heat pipe", *IN_ANY_STATE) or verdict["of"].startswith("part.")


def verdict_text(verdict: Verdict, state: str | None = None) -> str:
    """A must-have with what was asked and what is: "quiet: 25.3 dB(A), at most 20"."""
    unit = {"degC": "°C"}.get(verdict["unit"], verdict["unit"])
    bounds = [f"{word} {verdict[key]:g}" for key, word in (("at_most", "at most"), ("at_least", "at least"))
              if verdict[key] is not None]  # fmt: skip
    asked, why = " and ".join(bounds), verdict.get("why")
    told = f"{verdict['name']}{f' in state {state}' if state else ''}"
    if verdict["value"] is not None:
        value = f"{told_apart(verdict['value'], verdict['at_most'], verdict['at_least'])} {unit}".rstrip()
    else:
        asked = f"{asked} {unit}".rstrip()
        value = "not met" if verdict["met"] is False else "cannot tell"
    return f"{told}: {value}, {asked}{f' ({why})' if why else ''}"


def measure(of: str, summary: dict[str, Any]) -> tuple[float | None, str]:
    """The value a must-have is about, SI (°C), and what is missing where there is none."""
    if of == "noise":
        return summary["noise"]["with_room_dba"], "no noise was stated"
    if of == "dew margin":
        dew = summary["dew"]
        return (dew["margin_k"] if dew else None), "room.humidity is missing"
    if of == "warm-up":
        return summary["warm_up"].get("time_s"), "the run ends before it is warm"
    if of in ("height", "mass"):
        told = summary["bulk"][of]
        return told["value"], f"missing: {', '.join(told['missing'])}"
    kind, _, name = of.partition(".")
    return summary["parts" if kind == "part" else "probes"][name]["worst_degc"], ""


def _verdict(
    name: str, of: str, value: float | None, unit: str, at_most: float | None = None, at_least: float | None = None,
    why: str = "",
) -> Verdict:  # fmt: skip
    met = None
    if value is not None:
        met = (at_most is None or value <= at_most) and (at_least is None or value >= at_least)
    told = {"name": name, "of": of, "value": value, "unit": unit, "at_most": at_most, "at_least": at_least, "met": met}
    return told | ({"why": why} if met is None and why else {})

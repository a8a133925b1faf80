"""What a cheap step alone achieves of what liquid would: shares part by part, governor live and speed frozen.

    share = (T_now − T_trial) / (T_now − T_liquid), and for noise the same with levels

A live governor hides what a trial does to the part it holds, so there the noise tells; with the speed frozen where
the base case settles the temperatures do. Shares of different steps do not add.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from math import hypot
from typing import Any

from thermsim.case.case import Case
from thermsim.case.deciding import Decide
from thermsim.studies.decide.roles import BASE, Role, named

Facts = dict[str, Any]
RESOLVED = 3.0  # a share needs a denominator of so many uncertainties: common practice, no source
NOT_RESOLVABLE = "not resolvable: too little lies between now and liquid"
LIQUID_IS_WORSE = "liquid brings nothing here"
HELD = "held by the governor"


def trials(
    cases: Mapping[str, Case], roles: Mapping[str, Role], live: Mapping[str, Facts], held: Mapping[str, Facts]
) -> list[Facts]:
    """Every cheap step against every liquid option; `live`, `held`: settled facts, and of the frozen twins there are.

    A step without a governor is its own frozen twin. What did not settle (facts with "failed") is left out.
    """
    found = []
    for liquid in named(roles, "liquid"):
        for name in named(roles, "cheap"):
            if any("failed" in facts for facts in (live[BASE], live[name], live[liquid])):
                continue
            case, twin, now = cases[name], held.get(name, live[name]), live[BASE]
            sensors = {governor.sensor for governor in case.spec.governor.values()}
            awake = compared(case, now, live[name], live[liquid], sensors)
            found.append({
                "option": name, "against": liquid, "governed": name in held, "trap": is_trap(awake, case.spec.decide),
                "live": awake, "frozen": None if "failed" in twin else compared(case, now, twin, live[liquid]),
            })  # fmt: skip
    return found


def compared(case: Case, now: Facts, trial: Facts, liquid: Facts, sensors: Collection[str] = ()) -> Facts:
    """One trial beside now and liquid: shares by part and of noise, the worst part, what gets hotter.

    `sensors`: addresses of what live governors read; the share of a part they hold says nothing.
    """
    decide, u = case.spec.decide, case.spec.decide.uncertainty
    parts = {}
    for name, degc in trial["parts_degc"].items():
        if name in now["parts_degc"] and name in liquid["parts_degc"]:
            told = share(now["parts_degc"][name], degc, liquid["parts_degc"][name], u)
            at_hand = {key if key in ("share", "share_u", "why") else f"{key}_degc": v for key, v in told.items()}
            held = f"part.{name}" in sensors and abs(degc - now["parts_degc"][name]) < u
            parts[name] = at_hand | ({"share": None, "share_u": None, "why": HELD} if held else {})
    resolved = {name: told["share"] for name, told in parts.items() if told["share"] is not None}
    worst = min(resolved, key=lambda name: resolved[name], default=None)
    rises = {name: told["trial_degc"] - told["now_degc"] for name, told in parts.items()}
    limits = {name: part.limit for name, part in case.spec.part.items() if part.limit is not None}
    return {
        "parts": parts,
        "worst_part": worst,
        "worst_share": resolved[worst] if worst is not None else None,
        "best_part": max(resolved, key=lambda name: resolved[name], default=None),
        "noise": noise_share(now, trial, liquid, decide),
        "speeds": trial["speeds"],
        "hotter": [
            {"part": name, "by_k": rises[name]}
            for name in sorted(rises, key=lambda name: -rises[name])
            if rises[name] > u
        ],
        "newly_over": [
            {"part": name, "degc": parts[name]["trial_degc"], "limit_degc": limits[name]}
            for name in parts
            if name in limits and parts[name]["trial_degc"] > limits[name] >= parts[name]["now_degc"]
        ],
    }  # fmt: skip


def share(now: float, trial: float, liquid: float, u: float) -> Facts:
    """Share of the liquid's gain that a trial achieves, with its uncertainty, or None and why."""
    gain, whole = now - trial, now - liquid
    told: Facts = {"now": now, "trial": trial, "liquid": liquid, "share": None, "share_u": None, "why": None}
    if abs(whole) < RESOLVED * u:
        return told | {"why": NOT_RESOLVABLE}
    if whole < 0:
        return told | {"why": LIQUID_IS_WORSE}
    return told | {"share": gain / whole, "share_u": hypot(u, u * gain / whole) / whole}


def noise_share(now: Facts, trial: Facts, liquid: Facts, decide: Decide) -> Facts | None:
    """The same for levels with the room's, dB(A); None where no noise was stated."""
    levels = now["with_room_dba"], trial["with_room_dba"], liquid["with_room_dba"]
    if None in levels:
        return None
    told = share(*levels, u=decide.noise_uncertainty)
    return {f"{key}_dba" if key in ("now", "trial", "liquid") else key: value for key, value in told.items()}


def is_trap(live: Facts, decide: Decide) -> bool:
    """Quieter by more than can be mistaken, while a part gets hotter: hidden by a held one, or over its limit."""
    noise = live["noise"]
    quieter = noise is not None and noise["now_dba"] - noise["trial_dba"] > decide.noise_uncertainty
    hidden = any(told["why"] == HELD for told in live["parts"].values()) or bool(live["newly_over"])
    return quieter and hidden and any(part["by_k"] > 2 * decide.uncertainty for part in live["hotter"])


def first_to_run(found: list[Facts], liquid: str) -> Facts | None:
    """The trial to run first: none that makes a part hotter before one that does not, then the greatest share.

    What counts is the lesser of the worst part's share (speed frozen) and, with a governor, the noise's (live).
    """
    mine = [trial for trial in found if trial["against"] == liquid and trial["frozen"] is not None]
    return max(mine, key=_worth, default=None)


def _worth(trial: Facts) -> tuple[bool, float, float]:
    parts, noise = trial["frozen"]["worst_share"], trial["live"]["noise"]
    told = [parts] if parts is not None else []
    if trial["governed"] and noise is not None and noise["share"] is not None:
        told.append(noise["share"])
    harmless = not trial["trap"] and not trial["live"]["hotter"] and not trial["live"]["newly_over"]
    louder = noise is not None and noise["share"] is not None and noise["share"] < 0
    return harmless and not louder, min(told, default=-1.0), parts if parts is not None else -1.0

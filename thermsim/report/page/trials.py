"""What each cheap step achieves of what liquid would: the tables of the share chart."""

from __future__ import annotations

from typing import Any

from thermsim.studies.decide.trials import first_to_run

Facts = dict[str, Any]


def share_tables(compare: Facts) -> list[Facts]:
    """One table for each liquid option, the one that ranks first in front: trials across, parts down."""
    trials = compare["trials"]
    against = list(dict.fromkeys(trial["against"] for trial in trials))
    ranked = [one["option"] for one in (compare["decision"] or {"ranking": []})["ranking"] if one["passes"]]
    against.sort(key=lambda name: ranked.index(name) if name in ranked else len(ranked))
    return [_table(name, [trial for trial in trials if trial["against"] == name]) for name in against]


def _table(against: str, trials: list[Facts]) -> Facts:
    first = first_to_run(trials, against)
    parts = list(dict.fromkeys(part for trial in trials if trial["frozen"] for part in trial["frozen"]["parts"]))
    return {
        "against": against,
        "first": first["option"] if first else None,
        "governed": any(trial["governed"] for trial in trials),
        "trials": [_column(trial) for trial in trials],
        "parts": parts,
        "most": _most(trials),
    }


def _column(trial: Facts) -> Facts:
    live, frozen = trial["live"], trial["frozen"]
    return {
        "option": trial["option"],
        "trap": trial["trap"],
        "noise": live["noise"],
        "hotter": live["hotter"],
        "newly_over": live["newly_over"],
        "parts": frozen["parts"] if frozen else {},
        "worst_part": frozen["worst_part"] if frozen else None,
        "worst_share": frozen["worst_share"] if frozen else None,
    }


def _most(trials: list[Facts]) -> float:
    """The share a full bar stands for: all of the liquid's gain, or more where a step brings more."""
    found = [1.0]
    for trial in trials:
        sides = [trial["live"]["noise"], *(trial["frozen"]["parts"].values() if trial["frozen"] else ())]
        found += [abs(one["share"]) for one in sides if one and one["share"] is not None]
    return min(max(found), 2.0)

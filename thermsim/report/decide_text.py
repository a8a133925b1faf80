"""The decision as plain text: shares of the cheap steps, limits in every state, the ranking and how firm it is."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

from thermsim.report.text import columns, number
from thermsim.studies.decide.first_trial import reference
from thermsim.studies.words import percent, plain

Table = dict[str, Any]
SHORT = {"not resolvable": "n.r.", "liquid brings nothing": "liq ≥", "held by": "held"}


def trials_of(facts: Table) -> list[Table]:
    """Trials against the liquid option that the answer speaks of."""
    liquid = reference(facts) if facts["decision"] else None
    return [trial for trial in facts["trials"] if trial["against"] == liquid]


def share_lines(facts: Table) -> list[str]:
    """What each cheap step achieves of the liquid benefit: noise with the governor live, parts with speeds frozen."""
    told = trials_of(facts)
    if not told:
        return []
    governed = any(trial["governed"] for trial in told)
    frozen = ", governor live | speed frozen where the base case settles" if governed else ""
    lines = [f"share of what “{told[0]['against']}” would bring{frozen} (shares of different steps do not add)"]
    rows = [["cheap step", "dB(A)", "of quiet", "worst part", "share", "best part", "share", "gets hotter, live"]]
    for trial in told:
        live, still = trial["live"], trial["frozen"]
        noise = live["noise"]
        best = still["best_part"] if still else None
        rows.append([
            trial["option"] + (" (trap)" if trial["trap"] else ""),
            number(noise["trial_dba"]) if noise else "–",
            _share(noise) if noise else "–",
            plain(still["worst_part"] or "–") if still else "cannot settle",
            percent(still["worst_share"]) if still else "–",
            plain(best or "–"),
            percent(still["parts"][best]["share"]) if best else "–",
            _hotter(live, facts["uncertainty"]["temperature_k"]),
        ])  # fmt: skip
    return lines + columns(rows, " rr r r")


def _share(told: Table) -> str:
    if told["share"] is not None:
        return f"{round(100 * told['share'])} ±{round(100 * told['share_u'])} %"
    return next(short for why, short in SHORT.items() if told["why"].startswith(why))


def _hotter(live: Table, unsure: float) -> str:
    if not live["hotter"]:
        over = f"; {_names(live['newly_over'])} just over the limit" if live["newly_over"] else ""
        return f"none by over {unsure:g} K{over}"
    most, count = live["hotter"][0], len(live["hotter"])
    over = f"; over the limit: {_names(live['newly_over'])}" if live["newly_over"] else ""
    return f"{plain(most['part'])} {most['by_k']:+.1f} K{f', {count} parts in all' if count > 1 else ''}{over}"


def _names(parts: Sequence[Table]) -> str:
    return ", ".join(plain(part["part"]) for part in parts)


def part_share_lines(facts: Table) -> list[str]:
    """Shares part by part, speeds frozen; ! where the part gets hotter with the governor live."""
    told = [trial for trial in trials_of(facts) if trial["frozen"]]
    if not told:
        return []
    parts = list(dict.fromkeys(part for trial in told for part in trial["frozen"]["parts"]))
    rows = [["share by part", *[trial["option"] for trial in told]]]
    for part in parts:
        cells = []
        for trial in told:
            share = trial["frozen"]["parts"].get(part)
            warmer = any(one["part"] == part for one in trial["live"]["hotter"])
            cells.append((_share(share) if share else "–") + ("!" if warmer else " "))
        rows.append([plain(part), *cells])
    legend = [
        "n.r.: too little lies between now and liquid. liq ≥: liquid makes it no cooler. !: hotter, governor live"
    ]
    return columns(rows, " " + "r" * len(told)) + legend


def state_lines(facts: Table) -> list[str]:
    """Least margin of each option in each state, K; nothing where there is one state only."""
    asked = dict(facts["states"]["asked"])
    told = {name: states for name, states in facts["states"]["options"].items() if states}
    for states in told.values():  # an option may have states of its own, or lack some
        asked = dict.fromkeys(states, "steady") | asked
    if len(asked) < 2 or not told:
        return []
    heads = [state if course == "steady" else f"{course:g} s of {state}" for state, course in asked.items()]
    rows = [[f"least margin, K ({facts['states']['how']})", *heads]]
    for name, states in told.items():
        rows.append([name, *[_least(states[state]) if state in states else "–" for state in asked]])
    return columns(rows, " " + "r" * len(asked))


def _least(state: Table) -> str:
    if "failed" in state:
        return "never settles"
    margins = [(v["at_most"] - v["value"], v["part"]) for v in state["verdicts"] if v["of"] == "limit"]
    if not margins:
        return "–"
    margin, part = min(margins)
    return f"{margin:+.1f} {plain(part)}"


def ranking_lines(facts: Table) -> list[str]:
    """Options that fail no must-have, by score; then how often each design passes and wins in the samples."""
    decision = facts["decision"]
    if decision is None:
        return []
    lines: list[str] = []
    if decision["ranking"]:
        weights = decision["weights"]
        heads = [f"{plain(merit)}{_unit(decision, merit)} ×{weight:g}" for merit, weight in weights.items()]
        rows = [["rank", "option", "score", *heads, ""]]
        for one in decision["ranking"]:
            values = [number(one["merits"][merit]["value"]) for merit in weights]
            note = "ties with the first" if one["ties_with_first"] else ""
            note = note if one["passes"] else "cannot tell: " + "; ".join(
                must["name"] for must in decision["must_haves"][one["option"]]["cannot_tell"]
            )  # fmt: skip
            rows.append([str(one["rank"]), one["option"], number(one["score"], 2), *values, note])
        lines += columns(rows, "r r" + "r" * len(weights))
        lines += wrap(decision["formula"], 110) if len(decision["ranking"]) > 1 else []
    return lines


def firmness_lines(facts: Table) -> list[str]:
    """How often each design passes, and ranks first, over the samples."""
    decision = facts["decision"]
    if decision is None or not decision["draws"]:
        return []
    rows = [[f"in {decision['draws']} samples of what is not known well", "passes", "95 %", "first"]]
    for name, chance in decision["pass_probability"].items():
        span = f"{100 * chance['low']:.0f}–{100 * chance['high']:.0f} %"
        rows.append([name, percent(chance["share"]), span, percent(decision["rank_frequency"][name])])
    if decision["none_passes"]:
        rows.append(["none of these passes", percent(decision["none_passes"]), "", ""])
    return columns(rows, " rrr")


def sensor_lines(facts: Table) -> list[str]:
    """Whether a governor's own sensor could tell an option from the base case."""
    lines = []
    for one in facts["sensors"]:
        if one["alike"]:
            noise = one["noise_difference_db"]
            heard = f", and {abs(noise):.1f} dB {'quieter' if noise < 0 else 'louder'}" if noise is not None else ""
            lines.append(
                f"{plain(one['part'])} alone could not tell “{one['option']}” from the base case: never more than "
                f"{one['largest_difference_k']:.1f} K apart once warm{heard}"
            )
    return lines


def _unit(decision: Table, merit: str) -> str:
    unit = decision["units"].get(merit)
    return f" {unit}" if unit else ""

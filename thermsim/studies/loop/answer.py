"""Does the loop carry the heat, what eats the head, and what to change first: sentences from the facts of its books."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.studies.loop.changes import decisive
from thermsim.studies.words import percent, plain, told_apart

Facts = dict[str, Any]
WORTH_IT = 1.0  # K; less is lost in what one can measure: common practice, no source
MOST = 5


def answer(books: Sequence[Facts]) -> list[str]:
    """Up to five sentences."""
    if len(books) == 1:
        return about_one(books[0])
    options = [book["option"] for book in books]
    told = [carries(book, _subject(book, several=options.count(book["option"]) > 1)) for book in books]
    return told if len(told) <= MOST else [*told[: MOST - 1], f"{len(told) - MOST + 1} more below."]


def _subject(book: Facts, several: bool) -> str:
    """A loop among others: by its option, and its own name where that has several."""
    return f"{book['option']}: {'loop ' + book['loop'] if several else 'the loop'}"


def about_one(book: Facts) -> list[str]:
    """The whole answer about one loop."""
    told = [carries(book), eats(book), pump_sentence(book), first_change(book), gravest(book)]
    return [sentence for sentence in told if sentence][:MOST]


def carries(book: Facts, subject: str = "The loop") -> str:
    """Whether pump, hoses and radiator carry the heat, with the figures."""
    pump, standing = book["pump"], book["standing"]
    if pump["flow_l_per_min"] <= 0:
        return f"{subject} carries nothing: nothing flows."
    taken = sum(max(row["watts"], 0.0) for row in book["elements"])
    out = "".join(f"; {_exchange(address, told)}" for address, told in book["radiators"].items())
    tight, margin = standing["tightest_part"], standing["tightest_margin_k"]
    flow = (
        f"{taken:.1f} W at {pump['flow_l_per_min']:.2f} L/min and {pump['pressure_pa'] / 1e3:.1f} kPa, coolant up to "
        f"{standing['hottest_coolant_degc']:.1f} °C{out}"
    )
    if pump["stated_flow"] and pump["pressure_pa"] > pump["could_give_pa"]:
        return f"{subject} carries its heat on paper only, {flow}: {pump['pump']} cannot give the flow that is stated."
    if tight is None:
        return f"{subject} carries {flow}; no part on it has a limit to judge that by."
    if margin < 0:
        return f"{subject} does not carry its heat: {flow}; {plain(tight)} is {-margin:.1f} K over its limit."
    kept = f"every part on it keeps its limit, the tightest, {plain(tight)}, by {told_apart(margin, 0.0)} K"
    return f"{subject} carries its heat, {flow}; {kept}{_elsewhere(standing)}."


def _exchange(radiator: str, told: Facts) -> str:
    """What a radiator gives to its air, or takes from it."""
    over = told["coolant_in_degc"] - told["air_in_degc"]
    if over < 0:
        return f"{radiator} takes {-told['watts']:.1f} W from its air, which is {-over:.1f} K over its coolant"
    return f"{radiator} rejects {told['watts']:.1f} W, its coolant {over:.1f} K over its air"


def _elsewhere(standing: Facts) -> str:
    """The box's tightest part, where that is none of the loop's and is tighter."""
    part, margin = standing["elsewhere_part"], standing["elsewhere_margin_k"]
    if part is None or margin >= standing["tightest_margin_k"]:
        return ""
    side = f"has {told_apart(margin, 0.0)} K left" if margin >= 0 else f"is {-margin:.1f} K over its limit"
    return f", but {plain(part)}, which it does not touch, {side}"


def eats(book: Facts) -> str:
    """Which element eats the head, and all hoses together."""
    rows = [row for row in book["elements"] if row["share_of_head"]]
    if not rows:
        return ""
    most = max(rows, key=lambda row: row["drop_pa"])
    total = book["pump"]["pressure_pa"]
    kinds: dict[str, float] = {}
    for row in rows:
        if not in_a_branch(book, row["element"]):
            kind = row["element"].partition(".")[0]
            kinds[kind] = kinds.get(kind, 0.0) + row["drop_pa"]
    hoses = kinds.get("hose", 0.0)
    shares = {"friction": most["friction_pa"], "bends and fittings": most["fittings_pa"],
              "changes of bore": most["bore_steps_pa"], "as measured": most["measured_pa"]}  # fmt: skip
    chief = max(shares, key=lambda name: shares[name])
    part = percent(shares[chief] / most["drop_pa"])
    how = "" if chief == "as measured" else f", all by {chief}" if part == "100 %" else f", {part} of that by {chief}"
    told = (
        f"{most['element']} eats most of the head: {most['drop_pa'] / 1e3:.1f} of {total / 1e3:.1f} kPa "
        f"({percent(most['share_of_head'])}{how})"
    )
    together = f"; all hoses together {percent(hoses / total)}" if hoses > most["drop_pa"] else ""
    return f"{told}{together}."


def in_a_branch(book: Facts, element: str) -> bool:
    """Whether an element lies in one of several branches side by side."""
    return any(element in way["elements"] for split in book["branches"] for way in split["ways"])


def pump_sentence(book: Facts) -> str:
    """How near the pump is to its ends, and what more resistance does."""
    pump = book["pump"]
    if pump["stated_flow"] or pump["flow_l_per_min"] <= 0:
        return ""
    more = next(one for one in pump["at_resistance"] if one["factor"] > 1)
    loss = 1 - more["flow_l_per_min"] / pump["flow_l_per_min"]
    return (
        f"{pump['pump']} works at {percent(pump['share_of_dead_head'])} of its dead head of "
        f"{pump['dead_head_pa'] / 1e3:.0f} kPa; {round(100 * (more['factor'] - 1))} % more resistance would cost "
        f"{100 * loss:.1f} % of the flow."
    )


def first_change(book: Facts) -> str:
    """The one change that helps the tightest part most, or that none does."""
    rows, part = book["changes"], decisive(book["standing"])
    if not rows or part is None or book["pump"]["flow_l_per_min"] <= 0:
        return ""
    best = rows[0]
    flow = next((row for row in rows if row["in_flow"]), None)
    before = book["pump"]["flow_l_per_min"]
    if best["gain_k"] < WORTH_IT:
        most = f"no single change of the loop gains {plain(part)} {WORTH_IT:g} K"
        return f"Change nothing: {most}{_flow_gain(flow, before)}."
    told = f"Change first: {best['what']}; it gains the tightest part {best['gain_k']:.1f} K"
    if best is not flow:
        told += _flow_gain(flow, before)
    return f"{told}."


def _flow_gain(row: Facts | None, before: float) -> str:
    """What the best change of the flow would do, for those who would start there."""
    if row is None or before <= 0:
        return ""
    return (
        f"; {row['what']} would raise the flow by {percent(row['flow_l_per_min'] / before - 1)} and gain "
        f"{row['gain_k']:.1f} K"
    )


def gravest(book: Facts) -> str:
    """The first finding, as a sentence."""
    found = book["findings"]
    if not found:
        return ""
    more = f" ({len(found) - 1} more below)" if len(found) > 1 else ""
    return f"Beware: {found[0]}{more}."

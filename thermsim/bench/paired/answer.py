"""Did it get cooler, by how much, where not, is the model to be trusted, what next: sentences from the facts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.studies.sweep.answer import plain

Facts = dict[str, Any]
MOST_NAMED = 4


def answer(facts: Facts) -> list[str]:
    """Up to five sentences."""
    told = [_cooler(facts), _limits(facts), _besides(facts), _model(facts), _next(facts)]
    return [sentence for sentence in told if sentence]


def in_short(facts: Facts) -> str:
    """What was measured since, for who reads the model's answer: the nearest limit, and whether the model holds."""
    return " ".join(sentence for sentence in (_limits(facts), _model(facts)) if sentence)


def judged(facts: Facts) -> list[Facts]:
    """The rows that the verdict rests on: parts, or where none was logged whatever else is a temperature."""
    rises = [row for row in facts["rows"] if row["is_rise"]]
    return [row for row in rises if row["channel"].startswith("part.")] or rises


def short(channel: str) -> str:
    """A channel in words, without its kind where that is a part's."""
    return plain(channel)


def give_or_take(value: float, half: float) -> str:
    """A value and half its interval, both to the digit that the interval has: "5.2 ± 0.4"."""
    digits = 1 if half >= 0.095 else 2 if half >= 0.0095 else 3
    return f"{value:.{digits}f} ± {half:.{digits}f}"


def _cooler(facts: Facts) -> str:
    rows = judged(facts)
    if not rows:
        return "No temperature was logged both before and after."
    by_verdict = {
        verdict: [row for row in rows if row["verdict"] == verdict] for verdict in ("lower", "higher", "not told")
    }
    lower, higher, untold = by_verdict["lower"], by_verdict["higher"], by_verdict["not told"]
    noun = "parts" if rows[0]["channel"].startswith("part.") else "places"
    pieces = []
    if lower:
        pieces.append(f"Cooler after: {_count(lower, rows, noun)}, {_span(lower)}")
    if higher:
        pieces.append(f"{'warmer' if pieces else 'Warmer after'}: {_each(higher)}")
    elif lower:
        pieces.append("none warmer")
    if untold:
        widest = max(untold, key=lambda row: row["half_width"])
        names = _names([short(row["channel"]) for row in untold])
        text = f"no difference that this bench can tell in {names} (within ± {widest['half_width']:.1f} K)"
        pieces.append(text if pieces else text[0].upper() + text[1:])
    return "; ".join(pieces) + "."


def _count(some: Sequence[Facts], rows: Sequence[Facts], noun: str) -> str:
    return f"all {len(rows)} {noun}" if len(some) == len(rows) > 1 else f"{len(some)} of {len(rows)} {noun}"


def _span(rows: Sequence[Facts]) -> str:
    if len(rows) <= 2:
        return _each(rows)
    least, most = (choose(rows, key=lambda row: abs(row["change"])) for choose in (min, max))
    return f"from {_each([least])} to {_each([most])}"


def _each(rows: Sequence[Facts]) -> str:
    most_first = sorted(rows, key=lambda row: -abs(row["change"]))
    told = [f"{short(r['channel'])} by {give_or_take(abs(r['change']), r['half_width'])} K" for r in most_first]
    return _names(told)


def _names(names: Sequence[str]) -> str:
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


def _limits(facts: Facts) -> str:
    near = facts["nearest_limit"]
    if near is None:
        return ""
    text = (
        f"Nearest to its limit after: {short(near['part'])} at {near['degc']:.1f} °C of {near['limit_degc']:.0f} "
        f"with the room at {near['room_degc']:.1f} °C"
    )
    if near["margin_k"] < 0:
        over = f"{short(near['part'])}, {near['degc']:.1f} °C"
        return f"OVER its limit after: {over} where {near['limit_degc']:.0f} are allowed."
    hottest = near["room_degc"] + near["margin_k"]
    return f"{text}; a room of about {hottest:.0f} °C would take it there."


def _besides(facts: Facts) -> str:
    """Noise and speeds; what a governor hides."""
    rows = {row["channel"]: row for row in facts["rows"]}
    pieces = []
    noise = rows.get("noise")
    if noise is not None:
        way = {"lower": "fell by", "higher": "rose by", "not told": "changed by no more than"}[noise["verdict"]]
        amount = (
            give_or_take(abs(noise["change"]), noise["half_width"])
            if noise["verdict"] != "not told"
            else f"{abs(noise['change']) + noise['half_width']:.1f}"
        )
        after = facts["noise"]["after"]
        bound = "at most " if after and after["upper_bound"] else ""
        pieces.append(f"noise {way} {amount} dB(A), to {bound}{noise['after']['mean']:.1f}")
    for row in facts["rows"]:
        if row["channel"].split(".")[0] == "fan" and row["verdict"] != "not told":
            speeds = [f"{row[when]['mean']:.0f}" for when in ("before", "after")]
            if speeds[0] != speeds[1]:
                pieces.append(f"{short(row['channel'])} went from {speeds[0]} to {speeds[1]} %")
    text = "; ".join(pieces[:3])
    if facts["held"]:
        text += f"{'; ' if text else ''}{_governed(facts['held'])}"
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _governed(held: Sequence[Facts]) -> str:
    """What a governor held shows its gain in the speed, not in its temperature."""
    always = [short(one["sensor"]) for one in held if one["when"] == "before and after"]
    if always:
        return f"a governor holds {_names(always)}, so what was gained there is in the speed, not in its temperature"
    return f"a governor held {_names([short(one['sensor']) for one in held])} {held[0]['when']} only"


def _model(facts: Facts) -> str:
    told = facts["model"]
    if told is None:
        return ""
    if told["why_not"]:
        return f"What the model says could not be told: {told['why_not']}."
    off, of = told["off"], told["of"]
    if not of:
        return "The model has nothing to set beside what was logged."
    sure = f"its own uncertainty, typically ± {told['typical_u95_k']:.1f} K"
    if not off:
        return f"The model told the truth in all {of} places, before and after, within {sure}."
    worst = off[0]
    word = "high" if worst["off"] > 0 else "low"
    places = len({one["channel"] for one in off})
    return (
        f"The model told the truth in {of - places} of {of} places within {sure}; it reads {abs(worst['off']):.1f} K "
        f"{word} at {short(worst['channel'])} {worst['when']}: do not trust it there before it is fitted"
        f"{_also(off)}."
    )


def _also(off: Sequence[Facts]) -> str:
    """The other places that a reader will find marked."""
    rest = [f"{short(one['channel'])} {one['when']} ({abs(one['off']):.1f} K)" for one in off[1:]]
    return f"; nor at {_names(rest)}" if rest else ""


def _next(facts: Facts) -> str:
    counts, told = facts["counts"], facts["model"]
    if min(counts.values()) < 2:
        return (
            f"Next: repeat; the intervals of single runs rest on an assumed {facts['settings']['repeatability_k']:g} K "
            "from run to run, and three runs of each would tell it."
        )
    if told and told["biased"]:
        return f"Next: `thermsim fit`, for the model reads {told['bias_words']}{_suspect(told['off'])}."
    if any(row["verdict"] == "not told" for row in judged(facts)):
        return "Next: more repeats narrow the intervals, `thermsim bench CASE --protocol` tells how many."
    return ""


def _suspect(off: Sequence[Facts]) -> str:
    """A part that is hotter than the model only since the change: something there was built otherwise than drawn."""
    before = {one["channel"] for one in off if one["when"] == "before"}
    hotter = [
        one for one in off
        if one["off"] < 0 and one["channel"].startswith("part.") and one["channel"] not in before
    ]  # fmt: skip
    if not hotter:
        return ""
    worst = hotter[0]
    return (
        f"; and look at what was built at {short(worst['channel'])} (paste, screws, probe): it is "
        f"{abs(worst['off']):.1f} K hotter than the model only since then"
    )

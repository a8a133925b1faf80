"""A leak test in a few sentences to act on."""

from __future__ import annotations

from math import ceil
from typing import Any

Facts = dict[str, Any]
CUSTOMARY = '"0.05 sccm" is customary for small loops (common practice, no source)'


def answer(facts: Facts) -> list[str]:
    """Verdict, what temperature explains, what repeats say, how long to hold, what to do next."""
    found = [_verdict(facts), _drop(facts), _repeats(facts), _hold(facts)]
    return [text for text in found if text]


def plan(facts: Facts) -> list[str]:
    """What to do where nothing was held yet."""
    over = f"{facts['over_atmosphere_pa'] / 1e5:.2g} bar"
    found = [
        f"No test yet. Fill with dry air to {over} over the atmosphere or less, wait 15 min, read pressure and the "
        "temperature of the loop's metal, hold, read both again. Let down, and do it all once more.",
        f"0.1 K is {facts['tenth_of_kelvin_pa']:.0f} Pa there: the thermometer decides what can be told.",
        _hold(facts) or f"No limit was stated: limit = {CUSTOMARY}.",
    ]
    return found


def rate_text(facts: Facts) -> str:
    """The rate with its guard band."""
    told = facts["together"]
    guard = told["coverage_factor"] * told["u_sccm"]
    digits = _digits(guard)
    return f"{told['sccm']:.{digits}f} ± {guard:.{digits}f} sccm".replace("-", "−")


def long(seconds: float) -> str:
    """A time to hold, rounded up: "35 min", "3 h"."""
    minutes = ceil(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{ceil(minutes / 60)} h"


def _digits(size: float) -> int:
    digits = 2
    while size > 0 and round(size, digits) * 10**digits < 10 and digits < 6:
        digits += 1
    return digits


def _verdict(facts: Facts) -> str:
    rate, limit = f"{rate_text(facts)} (cm³ a minute)", facts["limit"]
    way = "takes in" if facts["inwards"] else "loses"
    if limit is None:
        return f"It {way} {rate}. No limit was stated, so nothing is judged: limit = {CUSTOMARY}."
    asked = f"{limit['sccm']:.3g} sccm"
    if facts["verdict"] == "holds":
        return f"Holds: it {way} {rate}: even with that uncertainty added no more than the {asked} accepted."
    if facts["verdict"] == "leaks":
        more = " or its hoses creep" if facts["together"]["course"] == "one test" else ""
        return f"Leaks{more}: it {way} {rate}, more than the {asked} accepted even with that uncertainty taken off."
    if facts["reason"] == "gains":
        return (
            f"Cannot tell: it seems to gain gas ({rate} lost), which it cannot. The thermometer does not tell the "
            "air's temperature, or the gauge drifts."
        )
    if facts["reason"] == "creep":
        return f"Cannot tell yet: the last test {way} {rate}, more than the {asked} accepted, but hoses still creep."
    if facts["hold_s"] is None:
        return (
            f"Cannot tell: it {way} {rate}, and {asked} is within that. Holding longer does not help: "
            "know the volume, or the atmosphere, better."
        )
    return f"Cannot tell: it {way} {rate}, and {asked} is within that: hold for at least {long(facts['hold_s'])}."


def _drop(facts: Facts) -> str:
    test = facts["tests"][-1]
    fell, left = test["drop_pa"], test["corrected_pa"]
    cooling = fell - left
    per_tenth = f"0.1 K is {facts['tenth_of_kelvin_pa']:.0f} Pa here"
    moved = "rose" if fell < 0 else "fell"
    sure = f" ± {2 * test['u_corrected_pa']:.0f}"
    share = f"cooling explains {cooling:.0f} Pa" if cooling >= 0 else f"warming hid {-cooling:.0f} Pa"
    which = f"In {test['name']} the" if len(facts["tests"]) > 1 else "The"
    text = f"{which} reading {moved} by {abs(fell):.0f} Pa in {_minutes(test['span_s'])}; {share}, "
    return f"{text}which leaves {left:.0f}{sure} Pa; {per_tenth}.".replace("-", "−")


def _repeats(facts: Facts) -> str:
    told, count = facts["together"], len(facts["tests"])
    course = told["course"]
    if course == "one test":
        return "One test does not tell a leak from hoses that creep: let down, hold again; creep falls, a leak stays."
    each = ", then ".join(f"{test['sccm']:.3f}" for test in facts["tests"]).replace("-", "−")
    if course == "agree":
        stays = (
            "it is a leak, however small, and not hoses that creep" if told["low_sccm"] > 0 else "no creep to be seen"
        )
        return f"The {count} tests agree ({each} sccm): {stays}."
    if course == "fall":
        return (
            f"It falls from test to test ({each} sccm): hoses creep. The last is an upper bound of the leak; "
            "hold again until two tests agree."
        )
    return f"It grows from test to test ({each} sccm): something is letting go. Stop, let down, look at every joint."


def _hold(facts: Facts) -> str:
    if facts["limit"] is None:
        return ""
    asked, hold = f"{facts['limit']['sccm']:.3g} sccm", facts["hold_for_limit_s"]
    if hold is None:
        return f"With this gauge, thermometer and volume no hold under a week resolves {asked}."
    return (
        f"To resolve {asked} with this gauge, thermometer and volume, hold {long(hold)}: a loop without a leak then "
        "passes 49 times in 50."
    )


def _minutes(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"

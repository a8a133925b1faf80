"""Do the heat pipes carry it, how many would, what is left with one lost: sentences from the facts of their books."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from thermsim.physics.moist_air import saturation_pressure
from thermsim.physics.saturated_water import HIGHEST_DEGC
from thermsim.studies.limits.entry import Limit
from thermsim.studies.limits.heat import pipes as over_capacity
from thermsim.studies.words import plain, told_apart

Facts = dict[str, Any]
MOST = 5
APART = 2.0  # maker and wick may differ by
LEVEL_DEG = 0.5
FREEZES = 0.0  # °C, the water within
HOTTEST = 150.0  # °C of the vapour, near 5 bar, that pipes are made for at most; common practice, no source


def answer(books: Sequence[Facts]) -> list[str]:
    """Up to five sentences."""
    several = len(books) > 1
    told = [carries(book, pipe, several) for book in books for pipe in book["pipes"]]
    if len(told) > MOST:
        return [*told[: MOST - 1], f"{len(told) - MOST + 1} more below."]
    book = max(books, key=lambda book: min(map(worst_margin, book["pipes"])))
    pipe = min(book["pipes"], key=worst_margin)
    told += [enough(book, pipe, several), lost(book, pipe, several), tilted(book, pipe, several)]
    return [sentence for sentence in told if sentence][:MOST]


def worst_margin(pipe: Facts) -> float:
    """Capacity over load in the worst state; infinite without a load."""
    margin = pipe["states"][pipe["worst_state"]]["margin"]
    return float("inf") if margin is None else float(margin)


def verdict(pipe: Facts) -> str:
    """ "carries", "short of margin" or "runs dry"."""
    margin = worst_margin(pipe)
    return "carries" if margin >= pipe["wanted_margin"] else "short of margin" if margin >= 1 else "runs dry"


def _whose(book: Facts, pipe: Facts, several: bool) -> str:
    many = f"{pipe['count']} pipes of {plain(pipe['name'])}" if pipe["count"] > 1 else f"pipe {plain(pipe['name'])}"
    return f"{book['option']}: {many}" if several else f"The {many}"


def carries(book: Facts, pipe: Facts, several: bool) -> str:
    """Whether a table's pipes carry the load, in the worst state."""
    state = pipe["worst_state"]
    told = pipe["states"][state]
    frozen = [f"{one['vapour_degc']:.0f} °C in {name}" for name, one in pipe["states"].items() if _is_frozen(one)]
    if frozen:
        many = "they carry" if pipe["count"] > 1 else "it carries"
        return (
            f"Reject: {_lower(_whose(book, pipe, several))} would be frozen, {' and '.join(frozen)}: then {many} next "
            "to nothing."
        )
    if told["margin"] is None:
        return f"{_whose(book, pipe, several)}: no load."
    asked, short = pipe["wanted_margin"], _below(pipe)
    figures = f"{told['capacity_w']:.0f} W for {_loads(pipe, short or [state])}, {asked:g} is wanted"
    kind = verdict(pipe)
    if kind == "carries":
        verb = "carry" if pipe["count"] > 1 else "carries"
        return f"{_whose(book, pipe, several)} {verb} it: {figures}."
    if kind == "short of margin":
        verb = "carry" if pipe["count"] > 1 else "carries"
        reason = "and a capacity is good to a factor of 2 only"
        return f"Reject: {_lower(_whose(book, pipe, several))} {verb} it on paper: {figures}, {reason}."
    verb = "run" if pipe["count"] > 1 else "runs"
    return f"Reject: {_lower(_whose(book, pipe, several))} {verb} dry: {figures}."


def _is_frozen(state: Facts) -> bool:
    return bool(state["vapour_degc"] < FREEZES)


def _below(pipe: Facts) -> list[str]:
    """States in which the wanted margin is not kept."""
    return [
        state
        for state, told in pipe["states"].items()
        if told["margin"] is not None and told["margin"] < pipe["wanted_margin"]
    ]


def _loads(pipe: Facts, states: Sequence[str]) -> str:
    """Loads of states with their margins: "53 W in play (margin 0.81) and 76 W in peak (0.57)"."""
    told: list[str] = []
    for state in states:
        one = pipe["states"][state]
        margin = told_apart(one["margin"], pipe["wanted_margin"], 1.0, digits=2)
        told.append(f"{one['load_w']:.0f} W in {state} ({'margin ' if not told else ''}{margin})")
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


def _lower(text: str) -> str:
    return text[0].lower() + text[1:] if text.startswith("The ") else text


def enough(book: Facts, pipe: Facts, several: bool) -> str:
    """How many such pipes would do."""
    needed = pipe["needed"]
    if needed is None or needed <= pipe["count"]:
        return ""
    state = pipe["states"][pipe["worst_state"]]
    spare = needed * pipe["one_w"]
    return (
        f"It takes {needed} of them ({spare:.0f} W) for {pipe['wanted_margin']:g} times {state['load_w']:.0f} W, "
        f"or fewer of a larger bore."
    )


def lost(book: Facts, pipe: Facts, several: bool) -> str:
    """What one pipe less does, in the worst state."""
    state = pipe["worst_state"]
    told = pipe["lost"][state]
    subject = f"{book['option']}: with" if several else "With"
    if told["parts_degc"] is None:
        return f"{subject} one pipe lost nothing carries the heat away."
    over = told["over"]
    if pipe["count"] == 1:
        what = f"{', '.join(map(plain, over))} over the limit" if over else "every part keeps its limit"
        return f"{subject} the one pipe of {plain(pipe['name'])} lost, in {state} {what}."
    left = f"{subject} one of {pipe['count']} lost the others may carry {told['capacity_w']:.0f} W in {state} and get "
    left += f"{told['load_w']:.0f} W: "
    if told["margin"] is not None and told["margin"] < 1:
        return f"{left}they run dry, and what they cool gets hotter than any figure here."
    what = f"they hold, but {', '.join(map(plain, over))} over the limit" if over else "they hold, within every limit"
    return f"{left}{what}."


def tilted(book: Facts, pipe: Facts, several: bool) -> str:
    """How far it may be tilted, or what keeps that from being told."""
    tilt = pipe["tilt"]
    subject = f"{book['option']}: the" if several else "The"
    if tilt["deg"] is None:
        return f"{subject} angle the pipes bear cannot be told: no wick is stated."
    to, carries_to = tilt["margin_to_deg"], tilt["carries_to_deg"]
    if to is None:
        bare = "nor is the bare load" if carries_to is None else f"the bare load {_carried(carries_to)}"
        return f"{subject} wanted margin is kept at no angle, not even with the hot end straight down; {bare}."
    if to >= 90:
        return f"{subject} wanted margin is kept at any angle."
    return f"{subject} wanted margin is {_carried(to)[3:]}."


def _carried(to: float) -> str:
    """Up to which angle something is carried."""
    if abs(to) < LEVEL_DEG:
        return "is kept up to level, no further"
    if to > 0:
        return f"is kept with the hot end up by {to:.0f}° at most"
    return f"is kept only with the hot end down by {-to:.0f}° or more"


def findings(book: Facts) -> Iterator[str]:
    """What of a book its builder must not overlook."""
    for pipe in book["pipes"]:
        name = plain(pipe["name"])
        for state, told in pipe["states"].items():
            yield from _of_the_vapour(name, state, told["vapour_degc"])
        wick, stated = pipe["wick_w"], pipe["straight_w"]
        if wick is not None and not 1 / APART <= wick / stated <= APART:
            yield (
                f"heat pipe {name}: its maker says {stated:.0f} W, its wick {wick:.0f} W, more than a factor of 2 "
                "apart: ask which is meant"
            )
        conduction = pipe["conduction"]
        if conduction is not None and conduction["stated_k_per_w"] < conduction["wick_k_per_w"][0]:
            yield (
                f"heat pipe {name}: the stated {conduction['stated_k_per_w']:g} K/W is less than its wick alone costs, "
                f"{conduction['wick_k_per_w'][0]:.2g} K/W"
            )


def limits_of(book: Facts) -> Iterator[Limit]:
    """Pipes that carry more than they can, or nearly, each in its worst state."""
    worst = {}
    for pipe in book["pipes"]:
        told = pipe["states"][pipe["worst_state"]]
        if told["margin"] is not None:
            carries = told["margin"] >= pipe["wanted_margin"]
            worst[pipe["name"]] = {**told, "wanted_margin": pipe["wanted_margin"], "carries": carries}
    yield from over_capacity(worst)


def _of_the_vapour(name: str, state: str, degc: float) -> Iterator[str]:
    if degc < FREEZES:
        yield f"heat pipe {name}: at {degc:.0f} °C in {state} its water is ice, and what is told of it does not hold"
    elif degc > HOTTEST:
        bar = saturation_pressure(min(degc, HIGHEST_DEGC)) / 1e5
        yield f"heat pipe {name}: {degc:.0f} °C in {state}, {bar:.0f} bar within: pipes burst; ask its maker"

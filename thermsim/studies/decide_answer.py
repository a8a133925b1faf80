"""The answer of a comparison in a few sentences that can be acted on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.studies.decide_roles import DESIGNS
from thermsim.studies.trials import HELD, first_to_run

Facts = dict[str, Any]
MOST = 0.5  # of the liquid's gain: more than that, and a cheap step alone brings most of it


def answer(told: Facts) -> list[str]:
    """Up to five: what to take and why; the trial to run first; the trap; what fails; what mishaps do."""
    if told["decision"] is None:
        return mishap_lines(told)
    return [*choice(told), *first_trial(told), *trap(told), *what_fails(told), *mishap_lines(told)][:5]


def choice(told: Facts) -> list[str]:
    """What to take, and why."""
    decision = told["decision"]
    designs = _designs(told)
    passing = [one for one in decision["ranking"] if one["passes"]]
    if not passing:
        return [_nothing_passes(told, designs)]
    best = passing[0]["option"]
    if len(passing) == 1:
        line = f"Take “{best}”: of {len(designs)} designs it alone meets every must-have, with {worth(told, best)}."
    else:
        line = (
            f"Take “{best}”: {len(passing)} of {len(designs)} designs meet every must-have, and by weight it ranks "
            f"first, with {worth(told, best)}."
        )
    tied = [one["option"] for one in passing if one["ties_with_first"]]
    if tied:
        line += f" {_quoted(tied)} cannot be told from it: the difference is within the uncertainty."
    chance = decision["pass_probability"].get(best)
    if chance:
        line += f" It passes in {_percent(chance['share'])} of {decision['draws']} samples of what is not known well."
    return [line]


def _nothing_passes(told: Facts, designs: Sequence[str]) -> str:
    musts = told["decision"]["must_haves"]
    open_ones = [one["option"] for one in told["decision"]["ranking"]]
    if open_ones:
        first = open_ones[0]
        why = "; ".join(must["text"] for must in musts[first]["cannot_tell"])
        return f"Nothing is known to fail “{first}”, but it cannot be told whether it meets every must-have: {why}."
    margins = {name: told["decision"]["merits"][name]["margin"] for name in designs}
    nearest = min(designs, key=lambda name: (len(musts[name]["failed"]), -(margins[name] or 0.0)))
    return (
        f"None of the {len(designs)} designs meets every must-have; nearest is “{nearest}”, which fails "
        f"{failing(musts[nearest]['failed'])}."
    )


def worth(told: Facts, name: str) -> str:
    """Margin and noise of an option in words."""
    merits = told["decision"]["merits"][name]
    found = []
    if merits["margin"] is not None:
        found.append(f"{merits['margin']:.1f} K to the nearest limit ({_plain(worst_part(told, name))})")
    if merits["noise"] is not None:
        found.append(f"{merits['noise']:.1f} dB(A)")
    return " and ".join(found) or "no limit and no noise stated"


def worst_part(told: Facts, name: str) -> str:
    """The part nearest to its limit over the run and all states."""
    margins = [
        (part["margin_k"], key)
        for key, part in told["options"][name]["parts"].items() if part["margin_k"] is not None
    ]  # fmt: skip
    for facts in told["states"]["options"].get(name, {}).values():
        margins += [(v["at_most"] - v["value"], v["part"]) for v in facts.get("verdicts", ()) if v["of"] == "limit"]
    return str(min(margins)[1])


def reference(told: Facts) -> str | None:
    """The liquid option that cheap steps are set against in words: the best that passes, else the first."""
    against = list(dict.fromkeys(trial["against"] for trial in told["trials"]))
    ranked = [one["option"] for one in told["decision"]["ranking"] if one["option"] in against and one["passes"]]
    return next(iter([*ranked, *against]), None)


def first_trial(told: Facts) -> list[str]:
    """The cheap step to try first, and what it tells."""
    liquid = reference(told)
    trial = first_to_run(told["trials"], liquid) if liquid is not None else None
    if trial is None:
        return []
    frozen, noise = trial["frozen"], trial["live"]["noise"]
    pieces = []
    if noise is not None and noise["share"] is not None:
        alive = "with the governor live " if trial["governed"] else ""
        pieces.append(
            f"{alive}{_percent(noise['share'])} of the quiet that “{liquid}” brings "
            f"({noise['now_dba']:.1f} to {noise['trial_dba']:.1f}, liquid {noise['liquid_dba']:.1f} dB(A))"
        )
    if frozen["worst_part"] is not None:
        still = "with the fan speed frozen " if trial["governed"] else ""
        whose = "its cooling" if pieces else f"the cooling that “{liquid}” brings"
        pieces.append(f"{still}{shares_in_words(told, trial)} of {whose}")
    if not pieces:
        return []
    line = f"Run “{trial['option']}” first: expect {', and '.join(pieces)}."
    if (frozen["worst_share"] or 0.0) >= MOST:
        return [line + " A cheap step alone brings most of it: think twice before cutting metal."]
    return [line + " If the bench shows about that, the model holds; if much more, think again about liquid."]


def shares_in_words(told: Facts, trial: Facts) -> str:
    """Frozen shares of the held part and of the worst part, both named."""
    frozen = trial["frozen"]
    worst = f"{_percent(frozen['worst_share'])} ({_plain(frozen['worst_part'])})"
    watched = [part for part in dict.fromkeys(one["part"] for one in told["sensors"]) if part != frozen["worst_part"]]
    shown = [part for part in watched if frozen["parts"].get(part, {}).get("share") is not None]
    if not shown:
        return f"at least {worst}"
    return f"{_percent(frozen['parts'][shown[0]]['share'])} ({_plain(shown[0])}), at worst {worst},"


def trap(told: Facts) -> list[str]:
    """A step that looks good where one listens or looks, and is not; and the one that does least."""
    liquid = reference(told)
    mine = [trial for trial in told["trials"] if trial["against"] == liquid]
    traps = [trial for trial in mine if trial["trap"]]
    lines = []
    if traps:
        worst = max(traps, key=lambda trial: (len(trial["live"]["newly_over"]), trial["live"]["hotter"][0]["by_k"]))
        live = worst["live"]
        over = live["newly_over"]
        most = live["hotter"][0]
        what = f"{_plain(most['part'])} gets {most['by_k']:.1f} K hotter"
        if over:
            go, last = "goes" if len(over) == 1 else "go", over[-1]
            what = f"{_list([_plain(one['part']) for one in over])} {go} over the limit"
            what += f" ({last['degc']:.1f} °C of {last['limit_degc']:g})"
        held = [_plain(part) for part, facts in live["parts"].items() if facts["why"] == HELD]
        unseen = f" and the held {held[0]} shows nothing of it" if held else ""
        lines.append(
            f"Trap: “{worst['option']}” makes it quieter ({live['noise']['trial_dba']:.1f} dB(A)){unseen}, but {what}."
        )
    least = [trial for trial in mine if not trial["trap"] and trial["frozen"] and trial["frozen"]["best_part"]]
    if len(least) > 1:
        weakest = min(least, key=lambda trial: trial["frozen"]["parts"][trial["frozen"]["best_part"]]["share"])
        best = weakest["frozen"]["best_part"]
        share = weakest["frozen"]["parts"][best]["share"]
        if share < MOST:
            words = f"“{weakest['option']}” does little: {_percent(share)} at best ({_plain(best)})."
            lines = [" ".join([*lines, words])]
    return lines


def what_fails(told: Facts) -> list[str]:
    """Designs that fail, liquid ones and the base case with the reason, the others by name."""
    musts, roles = told["decision"]["must_haves"], told["roles"]
    failing_ones = [name for name in _designs(told) if musts[name]["passes"] is False]
    shown = [name for name in failing_ones if roles[name] in ("liquid", "other", "base")][:3]
    if not shown:
        return []
    told_ones = [f"“{name}” ({failing(musts[name]['failed'])})" for name in shown]
    rest = len(failing_ones) - len(shown)
    more = f"; and {rest} more" if rest else ""
    return [f"What fails: {'; '.join(told_ones)}{more}."]


def failing(failed: Sequence[Facts]) -> str:
    """Must-haves that fail, the worst limit with its figures."""
    limits = [must for must in failed if must["of"] == "limit"]
    others = [must["text"] for must in failed if must["of"] != "limit"]
    found = []
    if limits:
        worst = max(limits, key=lambda must: must["value"] - must["at_most"])
        found.append(worst["text"] + (f", and {len(limits) - 1} more over a limit" if len(limits) > 1 else ""))
    return "; ".join(_plain(one) for one in found + others)


def mishap_lines(told: Facts) -> list[str]:
    """What mishaps do to the designs they are told of."""
    mishaps = told["mishaps"]
    if not mishaps:
        return []
    found = []
    for name, facts in mishaps.items():
        if facts["first_over"] is None:
            continue
        after = facts["after_s"] / 60
        when = f"{after:.0f} min on" if after >= 0 else "even before"
        found.append(f"“{name}” ({_plain(facts['first_over'])}, {when})")
    if not found:
        return [f"In none of {len(mishaps)} mishaps does a part pass its limit."]
    harmless = len(mishaps) - len(found)
    more = f"; in {harmless} more none does" if harmless else ""
    return [f"Mishaps that put a part over its limit: {', '.join(found)}{more}."]


def _designs(told: Facts) -> list[str]:
    return [name for name in told["options"] if told["roles"][name] in DESIGNS]


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _percent(share: float) -> str:
    return f"{round(100 * share)} %"


def _quoted(names: Sequence[str]) -> str:
    return _list([f"“{name}”" for name in names])


def _list(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"

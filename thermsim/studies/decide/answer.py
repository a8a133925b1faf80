"""The answer of a comparison in a few sentences that can be acted on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.solve.noise import without
from thermsim.studies.decide.first_trial import MOST, first_trial, reference
from thermsim.studies.decide.mishaps import mishap_lines
from thermsim.studies.decide.roles import DESIGNS
from thermsim.studies.decide.trials import HELD
from thermsim.studies.words import percent, plain

Facts = dict[str, Any]


def answer(told: Facts) -> list[str]:
    """Up to five: what to take and why; the trial to run first; the trap; what fails; what mishaps do."""
    if told["decision"] is None:
        return mishap_lines(told)
    return [*choice(told), *first_trial(told), *trap(told), *what_fails(told), *mishap_lines(told)][:5]


def choice(told: Facts, larger: Facts | None = None) -> list[str]:
    """What to take, and why; `larger`: how often it passes in a larger sample ("share", "low", "high", "count")."""
    decision = told["decision"]
    designs = _designs(told)
    passing = [one for one in decision["ranking"] if one["passes"]]
    if not passing:
        return [_nothing_passes(told, designs)]
    best = passing[0]["option"]
    if not any(decision["must_haves"][name]["count"] for name in designs):
        return ["No limit and no must-have is stated, so nothing can fail: give parts a limit, or a [must_have.…]."]
    if len(designs) == 1:
        line = f"“{best}” meets every must-have, with {worth(told, best)}."
    elif len(passing) == 1:
        line = f"Take “{best}”: of {len(designs)} designs it alone meets every must-have, with {worth(told, best)}."
    else:
        line = (
            f"Take “{best}”: {len(passing)} of {len(designs)} designs meet every must-have, and by weight it ranks "
            f"first, with {worth(told, best)}."
        )
    tied = [one["option"] for one in passing if one["ties_with_first"]]
    if tied:
        line += f" {_quoted(tied)} cannot be told from it: the difference is within the uncertainty."
    chance = larger or decision["pass_probability"].get(best)
    if chance:
        line += f" {firmness_in_words(chance, chance.get('count', decision['draws']))}"
    return [line]


def firmness_in_words(chance: Facts, count: int) -> str:
    """How often a design passes in samples, with the range that so few of them leave."""
    span = f"{100 * chance['low']:.0f} to {100 * chance['high']:.0f} %"
    return f"It passes in {percent(chance['share'])} of {count} samples of what is not known well ({span}, 95 % sure)."


def _nothing_passes(told: Facts, designs: Sequence[str]) -> str:
    musts = told["decision"]["must_haves"]
    count = len(designs)
    open_ones = [one["option"] for one in told["decision"]["ranking"]]
    if open_ones:
        first = open_ones[0]
        why = "; ".join(must["text"] for must in musts[first]["cannot_tell"])
        return f"Nothing is known to fail “{first}”, but it cannot be told whether it meets every must-have: {why}."
    margins = {name: told["decision"]["merits"][name]["margin"] for name in designs}
    nearest = min(designs, key=lambda name: (len(musts[name]["failed"]), -(margins[name] or 0.0)))
    fails = failing(musts[nearest]["failed"])
    if count == 1:
        return f"“{nearest}” does not meet every must-have: {fails}."
    return f"None of the {count} designs meets every must-have; nearest is “{nearest}”, which fails {fails}."


def worth(told: Facts, name: str) -> str:
    """Margin and noise of an option in words."""
    merits = told["decision"]["merits"][name]
    found = []
    if merits["margin"] is not None:
        found.append(f"{merits['margin']:.1f} K to the nearest limit ({plain(worst_part(told, name))})")
    if merits["noise"] is not None:
        level = f"{merits['noise']:.1f} dB(A)" if merits["noise"] > 0 else "no noise"
        found.append(level + without(told["noise_without"].get(name, ())))
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
        what = f"{plain(most['part'])} gets {most['by_k']:.1f} K hotter"
        if over:
            go, last = "goes" if len(over) == 1 else "go", over[-1]
            what = f"{_list([plain(one['part']) for one in over])} {go} over the limit"
            what += f" ({last['degc']:.1f} °C of {last['limit_degc']:g})"
        held = [plain(part) for part, facts in live["parts"].items() if facts["why"] == HELD]
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
            does = "does little" if share > 0 else "cools nothing"
            pushed = [plain(part["part"]) for part in weakest["live"]["newly_over"]]
            whose = "its" if len(pushed) == 1 else "their"
            over = f", and takes {_list(pushed)} just over {whose} limit" if pushed else ""
            words = f"“{weakest['option']}” {does}: {percent(share)} of the cooling at best ({plain(best)}){over}."
            lines = [" ".join([*lines, words])]
    return lines


def what_fails(told: Facts) -> list[str]:
    """Designs that fail: liquid ones and the base case with the reason, and how many more; not a lone one again."""
    musts, roles = told["decision"]["must_haves"], told["roles"]
    designs = _designs(told)
    failing_ones = [name for name in designs if musts[name]["passes"] is False] if len(designs) > 1 else []
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
    return "; ".join(plain(one) for one in found + others)


def _designs(told: Facts) -> list[str]:
    return [name for name in told["options"] if told["roles"][name] in DESIGNS]


def _quoted(names: Sequence[str]) -> str:
    return _list([f"“{name}”" for name in names])


def _list(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"

"""The page's first answer: the comparison's, with what the other studies know better of the option to take."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermsim.bench.paired.answer import in_short
from thermsim.studies.decide.answer import choice, trap, what_fails
from thermsim.studies.decide.first_trial import first_trial, taken
from thermsim.studies.decide.mishaps import mishap_lines
from thermsim.studies.decide.roles import BASE
from thermsim.studies.mishap.answer import most_urgent, sentence, span, urgency
from thermsim.studies.place.answer import CLOSE

Facts = dict[str, Any]
MORE_MISHAPS = 2  # told with their times, behind the most urgent


def page_answer(compare: Facts, studies: Mapping[str, Facts]) -> list[str]:
    """What to take, the trial first, the trap, what fails, what a mishap does, a better place; what was measured."""
    if compare["decision"] is None:
        return [*compare["answer"], *_measured(studies.get("bench"))]
    best = taken(compare)
    return [
        *choice(compare, larger_sample(compare, studies.get("sweep"))),
        *first_trial(compare),
        *trap(compare),
        *what_fails(compare),
        *(_mishaps(best, studies.get("mishap")) or mishap_lines(compare)),
        *_place(best, compare, studies.get("place")),
        *_measured(studies.get("bench")),
    ]


def larger_sample(compare: Facts, sweep: Facts | None) -> Facts | None:
    """How often the option to take passes by the sweep, where that is of it and has more samples."""
    if compare["decision"] is None or sweep is None or (sweep["option"] or BASE) != taken(compare):
        return None
    samples = sweep["samples"]
    if samples is None or samples["all_pass_probability"] is None or samples["count"] <= compare["decision"]["draws"]:
        return None
    share, low, high = (samples[f"all_pass_{key}"] for key in ("probability", "low", "high"))
    return {"share": share, "low": low, "high": high, "count": samples["count"]}


def _mishaps(best: str | None, mishap: Facts | None) -> list[str]:
    """What the mishaps do to the option to take: the most urgent, then others that pass a limit."""
    cases = [case for case in mishap["cases"] if (case["option"] or BASE) == best] if mishap is not None else []
    if not cases:
        return []
    worst = most_urgent(cases)
    rest = [case for case in cases if case is not worst and case["first_over"] and case["what"] != "room hot"]
    rest.sort(key=urgency)
    told = "; ".join(f"{case['text']}, {span(case['first_over']['time_s'])}" for case in rest[:MORE_MISHAPS])
    return [f"If something fails in {sentence(f'“{best}”', cases)}" + (f" Next: {told}." if told else "")]


def _place(best: str | None, compare: Facts, place: Facts | None) -> list[str]:
    """Where plates reach a better worst margin than the option to take has."""
    if place is None or best is None or place["option"] != best:
        return []
    found = [
        (told["best"]["exact_worst_margin_k"], f"two plates in {name} reach")
        for name, told in place["pairs"].items()
        if told["best"]
    ]
    found += [(one["exact_worst_margin_k"], "one plate elsewhere reaches") for one in place["leaders"][:1]]
    most, words = max(found, default=(0.0, ""))
    margin = compare["decision"]["merits"][best]["margin"]
    if not found or margin is None or most <= margin + CLOSE:
        return []
    side = "under" if most >= 0 else "over"
    return [f"More margin: {words} {abs(most):.1f} K {side} every limit; see “Where the plate goes”."]


def _measured(bench: Facts | None) -> list[str]:
    """What the bench says of all this, where there were runs."""
    told = in_short(bench) if bench is not None else ""
    return [f"Measured since, see “Before and after”: {told}"] if told else []

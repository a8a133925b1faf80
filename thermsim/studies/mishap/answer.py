"""What the mishaps of a case come to, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from thermsim.case.case import Case
from thermsim.studies.decide.roles import BASE
from thermsim.studies.limits.entry import Limit, together
from thermsim.studies.limits.heat import boiling, condensation, no_way_out
from thermsim.studies.mishap.alarms import THRESHOLDS_K
from thermsim.studies.mishap.cases import HORIZON_S
from thermsim.studies.words import safe_share, safe_watts

Facts = dict[str, Any]
MOST_OPTIONS = 4  # with a sentence of their own


def answer(facts: Facts) -> list[str]:
    """A sentence for each option, the one with least time first, and one on what the room may do."""
    if not any(case["limits_degc"] for case in facts["cases"]):
        return ["No part has a limit, so nothing can be said to fail: state part.….limit."] if facts["cases"] else []
    by_option: dict[str, list[Facts]] = {}
    for case in facts["cases"]:
        by_option.setdefault(called(case), []).append(case)
    ranked = sorted(by_option, key=lambda name: urgency(most_urgent(by_option[name])))
    told = [sentence(name, by_option[name]) for name in ranked[:MOST_OPTIONS]]
    rooms = _rooms(by_option)
    return told + ([rooms] if rooms else [])


def called(case: Facts) -> str:
    """What the option of a case is called."""
    return case["option"] or f"{BASE} case"


def urgency(case: Facts) -> tuple[float, float]:
    """Sorts by the time to the first limit, then by the margin that is left."""
    first, margin = case["first_over"], case["ends"]["worst_margin_k"]
    return first["time_s"] if first else float("inf"), margin if margin is not None else float("inf")


def most_urgent(cases: list[Facts]) -> Facts:
    """The most urgent failure of a device; of the room only where nothing else is looked at."""
    devices = [case for case in cases if case["what"] != "room hot"]
    return min(devices or cases, key=urgency)


def sentence(name: str, cases: list[Facts]) -> str:
    """What an option's most urgent mishap does to it, what alarm is in time, and what stays safe."""
    case = most_urgent(cases)
    before = f"{_listed(case['over_before'])} over the limit before anything fails; " if case["over_before"] else ""
    first, ends, alarm = case["first_over"], case["ends"], case["best_alarm"]
    if first is None:
        rest = f"no {'more ' if before else ''}limit is passed; nearest is {case['text']}"
        if ends["worst_margin_k"] is not None and not before:
            rest += f", which leaves {ends['worst_part']} {ends['worst_margin_k']:.1f} K"
        return f"{name}: {before}{rest}{_safe(case)}."
    told = f"{case['text']}: {span(first['time_s'])} to the first limit ({first['part']}, {first['limit_degc']:g} °C)"
    switch = next((one["of"] for one in case["alarms"] if one["rise_k"] is None), None)
    if alarm is None:
        told += "; no thermometer rings before" + (f", only the {switch} would" if switch else "")
    else:
        told += f"; an alarm at {alarm['of']} +{alarm['rise_k']:g} K rings {span(alarm['lead_s'])} before"
    return f"{name}: {before}{told}{_safe(case)}."


def _safe(case: Facts) -> str:
    safe = case["safe_power"]
    if safe is None:
        return ""
    if safe["factor"] == 0.0:
        return "; not within limits for long at any watts"
    most = "at least " if safe["at_least"] else ""
    share = f"{most}{safe_share(safe['factor'])} of the parts' watts ({safe_watts(safe['watts'])})"
    return f"; within all limits for ever up to {share}"


def _rooms(by_option: dict[str, list[Facts]]) -> str:
    """Which options keep their limits in a warmer room."""
    told = []
    for name, cases in by_option.items():
        rooms = [case for case in cases if case["what"] == "room hot"]
        lost = [case for case in rooms if case["first_over"]]
        if any(case["over_before"] for case in rooms):
            told.append(f"{name} is over a limit as the room is")
        elif lost:
            least = max(lost, key=lambda case: float(case["ends"]["worst_margin_k"]))
            told.append(f"{name} fails with the {least['text']} ({least['first_over']['part']})")
        elif rooms:
            told.append(f"{name} bears them all")
    return f"Warmer rooms: {'; '.join(told)}." if told else ""


def span(seconds: float) -> str:
    """A length of time as a person says it."""
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 7200:
        return f"{seconds / 60:.{1 if seconds < 600 else 0}f} min"
    return f"{seconds / 3600:.1f} h"


def _listed(names: list[str]) -> str:
    return f"{' and '.join(names)} {'is' if len(names) == 1 else 'are'}"


def warnings_of(facts: Facts) -> list[str]:
    """What should make the reader wary, each thing once, with the options and mishaps it is about."""
    found: dict[str, dict[str, list[str]]] = {}
    for case in [*facts["cases"], *facts["failed"]]:
        texts = [f"no solution was found: {case['failed']}"] if "failed" in case else _wary(case)
        for text in texts:
            found.setdefault(text, {}).setdefault(called(case), []).append(case["text"])
    return [f"{_whose(by_option)}: {text}" for text, by_option in found.items()]


def limits_of(facts: Facts) -> list[Limit]:
    """Where the model does not follow a mishap to its end, each limit once, with the options and mishaps."""
    return together({f"{called(case)} ({case['text']})": list(_limits(case)) for case in facts["cases"]})


def _limits(case: Facts) -> Iterator[Limit]:
    ends, coolant = case["ends"], case["hottest_coolant_degc"]
    if coolant is not None:
        yield from boiling({None: coolant})
    if ends["coldest_degc"] is None:
        yield no_way_out()
    if ends["dew_margin_k"] is not None:
        told = {"margin_k": ends["dew_margin_k"], "coldest_degc": ends["coldest_degc"], "coldest_at": None}
        yield from condensation(told | {"dew_point_degc": ends["coldest_degc"] - ends["dew_margin_k"]})


def _whose(by_option: dict[str, list[str]]) -> str:
    return "; ".join(f"{option} ({', '.join(mishaps)})" for option, mishaps in by_option.items())


def _wary(case: Facts) -> Iterator[str]:
    yield from case["notes"]
    ends = case["ends"]
    if ends["coldest_degc"] is not None and not ends["settled"]:
        yield f"not at rest after {span(ends['followed_s'])}"
    if case["heated_from_outside"]:
        yield f"{case['first_over']['part']} is heated from outside, and is over sooner than by its own watts"
    for loop, level in case["level"].items():
        if level["pump_draws_air"]:
            yield f"the reservoir of loop {loop} is empty, the pump draws air and the flow stops"
        else:
            yield (f"loop {loop} runs on with {100 * level['reservoir_left']:.0f} % in its reservoir; "
                   "nothing but its level tells")  # fmt: skip
    deaf = [one["of"] for one in case["alarms"] if one["stream_stands"] and one["rise_k"] == THRESHOLDS_K[1]
            and (one["lead_s"] is None or one["lead_s"] <= 0)]  # fmt: skip
    false = _false_alarm(case)
    if false:
        yield false
    if deaf and case["first_over"]:
        yield f"a thermometer in {' or '.join(deaf)} does not tell in time: what stands brings it no heat"


def _false_alarm(case: Facts) -> str | None:
    """An alarm that rings in a warmer room though no limit is passed."""
    if case["what"] != "room hot" or case["first_over"] or case["over_before"] or not case["limits_degc"]:
        return None
    rings = [one for one in case["alarms"] if (one["rise_k"] or 0.0) >= THRESHOLDS_K[1] and one["rings_s"] is not None]
    if not rings:
        return None
    return (
        f"no limit is passed, yet thermometers set to {rings[0]['rise_k']:g} K over settled ring; measure against the "
        "room, or set them higher"
    )


def assumptions(cases: Iterable[Case]) -> list[str]:
    """What the study takes for granted."""
    specs = [case.spec for case in cases]
    found = [
        f"A mishap strikes a box that has settled, lasts, and is followed for {span(HORIZON_S)}.",
        "With no way out: a part's own watts into its own heat capacity, and that of the sink or block it alone has.",
        "Alarms ring without delay. Thresholds count from settled readings: a room that warms by as much rings them.",
    ]
    if any(spec.duty for spec in specs):
        found.append("Duties are held as they are when the mishap strikes, or at the end of the run.")
    if any(spec.loop for spec in specs):
        found.append(
            "In coolant that stands heat passes only through it and into it: none is carried, none circulates."
        )
    return [*found, "A warmer room is warmer at once: slower in truth, so times to a limit are the shortest."]

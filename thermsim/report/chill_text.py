"""A chill study as plain text: the answer first, then the sweep, liquid options beside it, weather, the trial."""

from __future__ import annotations

from typing import Any

from thermsim.report.text import closing, columns, number, opening, paragraphs

Facts = dict[str, Any]


def chill_text(facts: Facts, width: int = 110) -> str:
    """The whole report."""
    sections = [
        opening(facts, width, _about(facts)),
        sweep_lines(facts),
        *(liquid_lines(facts, option) for option in facts["equivalents"]),
        weather_lines(facts),
        paragraphs([f"trial: {facts['trial']['text']}"], width) if facts["trial"] else [],
        closing(facts, width),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def _about(facts: Facts) -> str:
    what = f"option {facts['option']}" if facts["option"] else "base case"
    what += f" in state {facts['state']}" if facts["state"] else ""
    inlets = facts["inlets_degc"]
    return (
        f"{what}; inlet of airway.{facts['airway']} from {inlets[0]:.1f} to {inlets[-1]:.1f} °C, "
        f"room {facts['room_degc']:.1f} °C"
    )


def sweep_lines(facts: Facts) -> list[str]:
    """One line an inlet: the worst part with speeds frozen, then with governors live, noise, dew."""
    governed = facts["governed"]
    still, live = facts["frozen"], facts["live"]
    driven = sorted({device for one in facts["governors"].values() for device in one["drives"]})
    head = (
        ["inlet °C", "frozen: worst part", "°C", "margin K"]
        if governed
        else ["inlet °C", "worst part", "°C", "margin K"]
    )
    if governed:
        head += ["live: worst part", "°C", "margin K", *(f"{device} %" for device in driven)]
    head += ["dB(A)", "coldest to dew K"]
    rows = [head]
    for k, inlet in enumerate(facts["inlets_degc"]):
        row = [f"{inlet:.1f}{'  room' if inlet == facts['room_degc'] else ''}", *_worst(still, k)]
        if governed:
            row += [*_worst(live, k), *(f"{100 * live['speeds'][device][k]:.0f}" for device in driven)]
        rows.append([*row, number(live["with_room_dba"][k]), number(live["dew_margin_k"][k])])
    return columns(rows, " " + " rr" * (2 if governed else 1) + "r" * (len(driven) + 2))


def _worst(course: Facts, k: int) -> list[str]:
    part = course["worst_part"][k]
    degc = None if part is None else course["parts_degc"][part][k]
    return [part or "–", number(degc), number(course["worst_margin_k"][k])]


def liquid_lines(facts: Facts, option: Facts) -> list[str]:
    """For each part what a liquid option reaches, and the inlet at which air alone does."""
    governed = facts["governed"]
    base, still, live = facts["base"], option["frozen"], option["live"]
    head = ["part", "now °C", f"{option['option']} °C", "air does it from °C"]
    rows = [[*head, "live from °C"] if governed else head]
    for name in still["parts"]:
        row = [name, number(base["parts_degc"][name]), number(option["parts_degc"][name]), _inlet(facts, still, name)]
        rows.append([*row, _inlet(facts, live, name)] if governed else row)
    wholes: list[tuple[str, str]] = [("all parts", "all_parts_degc"), ("worst margin", "worst_margin_degc")]
    for label, key in wholes:
        row = [label, "", "", _or_colder(facts, still[key])]
        rows.append([*row, _or_colder(facts, live[key])] if governed else row)
    return columns(rows, " rrrr")


def _inlet(facts: Facts, course: Facts, name: str) -> str:
    return "any swept" if name in course["at_any_inlet"] else _or_colder(facts, course["parts"][name])


def _or_colder(facts: Facts, inlet: float | None) -> str:
    return f"below {facts['inlets_degc'][0]:.1f}" if inlet is None else f"{inlet:.1f}"


def weather_lines(facts: Facts) -> list[str]:
    """Hours in which the coldest place would be wet."""
    weather = facts["weather"]
    if weather is None:
        return []
    year = "a year" if weather["is_a_year"] else "no whole year"
    gaps = f", {weather['missing_hours']} more have no value" if weather["missing_hours"] else ""
    head = [f"hours of {weather['hours']} ({year}{gaps})", "coldest place °C", "below dew point", "or within 2 K"]
    rows = [head]
    for k, inlet in enumerate(facts["inlets_degc"]):
        counts = weather["hours_below"][k], weather["hours_below_or_within_2k"][k]
        rows.append([f"inlet {inlet:.1f} °C", number(facts["frozen"]["coldest_degc"][k]), *map(str, counts)])
    for name, place in weather["places"].items():
        counts = place["hours_below"], place["hours_below_or_within_2k"]
        rows.append([name, number(place["coldest_degc"]), *map(str, counts)])
    return [*columns(rows, " rrr"), f"assumed: {weather['assumption']}"]

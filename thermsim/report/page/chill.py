"""The chill study on the page: parts and noise by inlet temperature, and what air would match which liquid option."""

from __future__ import annotations

from typing import Any

from thermsim.report.curves import family
from thermsim.report.page.curves import chart, plain_line
from thermsim.report.style import ALARM, NOTE
from thermsim.studies.words import plain

Facts = dict[str, Any]
WET = "#56b4e9"
COOLANT_TEXT = "#0b6a94"  # the coolant's blue, dark enough to read


def chill_charts(facts: Facts) -> dict[str, Facts]:
    """Charts by name: parts with speeds frozen, parts with governors live (if any), noise (if known)."""
    shown = hottest_of_families(facts["base"]["parts_degc"], facts["base"]["worst_part"])
    charts = {"chill_frozen": _parts(facts, facts["frozen"], shown)}
    if facts["governed"]:
        charts["chill_live"] = _parts(facts, facts["live"], shown)
    if facts["live"]["with_room_dba"][0] is not None:
        charts["chill_noise"] = _noise(facts)
    return charts


def hottest_of_families(degc: dict[str, float], always: str | None) -> list[str]:
    """Of like parts (adc1, adc2 …) the hottest; one part always."""
    stems: dict[str, list[str]] = {}
    for name in degc:
        stems.setdefault(family(name), []).append(name)
    found = [max(names, key=lambda name: degc[name]) for names in stems.values()]
    return found if always is None or always in found else [*found, always]


def _frame(facts: Facts, y_label: str, lines: list[Facts]) -> Facts:
    """A chart over the inlet, with the inlets at which something sweats and the room's temperature."""
    dew, first = facts["dew_point_degc"], facts["inlets_degc"][0]
    bands = [] if dew is None else [{"from": first, "to": dew, "colour": WET, "text": f"sweats, dew point {dew:.1f}"}]
    room = {"x": facts["room_degc"], "text": f"room {facts['room_degc']:g}", "colour": NOTE}
    return chart(f"inlet of airway {plain(facts['airway'])}, °C", y_label, lines) | {"bands": bands, "marks": [room]}


def _parts(facts: Facts, course: Facts, shown: list[str]) -> Facts:
    lines, limits, labels = [], [], []
    for k, name in enumerate(shown):
        degc = course["parts_degc"][name]
        lines.append(plain_line(name, facts["inlets_degc"], degc, k))
        limit = facts["limits_degc"].get(name)
        bound = "" if limit is None else f" (limit {limit:g})"
        labels.append({"text": f"{plain(name)} {degc[-1]:.1f}{bound}", "y": degc[-1], "colour": lines[-1]["colour"]})
        if limit is not None:
            limits.append({"y": limit, "colour": lines[-1]["colour"]})
    return _frame(facts, "°C", lines) | {"limits": limits, "labels": labels}


def _noise(facts: Facts) -> Facts:
    courses = [("governor live", "live"), ("speed frozen", "frozen")] if facts["governed"] else [("noise", "live")]
    lines = [plain_line(name, facts["inlets_degc"], facts[key]["with_room_dba"], k)
             for k, (name, key) in enumerate(courses)]  # fmt: skip
    levels = [
        {"y": one["with_room_dba"], "text": one["option"], "colour": COOLANT_TEXT}
        for one in facts["equivalents"] if one["with_room_dba"] is not None
    ]  # fmt: skip
    most = facts["quiet_limit_dba"]
    if most is not None:
        levels.append({"y": most, "text": f"must-have: at most {most:g}", "colour": ALARM})
    return _frame(facts, "dB(A) with the room", lines) | {"levels": levels}

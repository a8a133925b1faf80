"""What a chill study should make its reader wary of."""

from __future__ import annotations

from typing import Any

from thermsim.studies.limits.entry import RESTLESS, Limit, in_order, limit, together
from thermsim.studies.limits.heat import condensation

Facts = dict[str, Any]


def warnings_of(facts: Facts) -> list[str]:
    """Warnings of the sweep and of the liquid options it is set against."""
    found = []
    if facts["humidity"] is None:
        found.append("room.humidity is missing: condensation is not judged")
    if facts["dew_point_degc"] is not None and facts["lowest_dry_inlet_degc"]["2"] is None:
        found.append("the coldest place is within 2 K of the room's dew point at every inlet swept")
    if facts["live"]["with_room_dba"][0] is None:
        found.append("no noise was stated: what quieter fans would be worth cannot be told")
    weather = facts["weather"]
    if weather is not None and not weather["is_a_year"]:
        rows = weather["hours"] + weather["missing_hours"]
        found.append(f"{weather['file']} has {rows} rows, each taken as an hour; a year has 8760")
    return found


def limits_of(facts: Facts) -> list[Limit]:
    """Inlets at which the governors never rest, and liquid options that come too near the room's dew point."""
    found: list[Limit] = []
    swept = zip(facts["inlets_degc"], facts["live"]["settles"], strict=True)
    restless = [f"{inlet:.1f} °C" for inlet, rests in swept if not rests]
    if restless:
        text = f"at an inlet of {', '.join(restless)} those are the last speeds tried"
        found.append(limit(RESTLESS, facts["governors"], text, len(restless)))
    told: dict[str, list[Limit]] = {}
    for option in facts["equivalents"]:
        if option["dew_margin_k"] is not None:
            dew = {"margin_k": option["dew_margin_k"], "dew_point_degc": facts["dew_point_degc"]}
            dew |= {key: option[key] for key in ("coldest_degc", "coldest_at")}
            told[option["option"]] = list(condensation(dew, facts["dew_margin_k"]))
    return in_order([*found, *together(told)])

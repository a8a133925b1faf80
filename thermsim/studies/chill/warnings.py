"""What a chill study should make its reader wary of."""

from __future__ import annotations

from typing import Any

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
    restless = [
        f"{inlet:.1f}" for inlet, rests in zip(facts["inlets_degc"], facts["live"]["settles"], strict=True) if not rests
    ]
    if restless:
        found.append(
            f"the governors never rest at an inlet of {', '.join(restless)} °C: those are the last speeds tried"
        )
    for option in facts["equivalents"]:
        margin = option["dew_margin_k"]
        if margin is not None and margin < facts["dew_margin_k"]:
            side = f"{-margin:.1f} K below" if margin < 0 else f"only {margin:.1f} K above"
            found.append(
                f"option {option['option']}: its coldest place, {option['coldest_at']} at "
                f"{option['coldest_degc']:.1f} °C, is {side} the room's dew point"
            )
    return found

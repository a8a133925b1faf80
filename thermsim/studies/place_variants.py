"""At the winner's place: the channel entered from either end, turned about, and laid out in other ways."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from thermsim.studies.place_exact import Exactly
from thermsim.studies.place_layouts import LAYOUTS, Layout, NoRoom, layout
from thermsim.studies.place_rules import Verdict
from thermsim.studies.place_setup import Search
from thermsim.studies.place_spot import Spot
from thermsim.studies.place_tables import Laid
from thermsim.studies.place_told import millimetres

Facts = dict[str, Any]


def channel_ways(exactly: Exactly, search: Search, best: Verdict) -> list[Facts]:
    """Both ends as inlet, the plate as it lies and turned about by 180°; what hoses forbid is told too."""
    spot, found = best.spot, []
    for turn in (spot.turn, (spot.turn + 180) % 360):
        for backwards in (False, True):
            one = search.first.layout.reversed() if backwards else search.first.layout
            facts = _solved(exactly, search, Spot(spot.corner, turn, spot.size), one)
            found.append({"rotation_deg": turn, "inlet": "at its end" if backwards else "at its start", **facts})
    return found


def other_layouts(exactly: Exactly, search: Search, best: Verdict) -> list[Facts]:
    """The searched layout, then each other one with the same number of passes, in the better of two turns."""
    spot, channel = best.spot, search.spec.plate[search.first.plate].channel
    found = [_layout(exactly, search, spot, search.first.layout)]
    for name in LAYOUTS:
        if name == search.first.layout.name:
            continue
        try:
            one = layout(name, search.first.size, search.place.passes, channel.width, search.place.wall_to_channel)
        except NoRoom as error:
            found.append({"name": name, "allowed": False, "why": [str(error)], "path_mm": []})
            continue
        about = [Spot(spot.corner, turn, spot.size) for turn in (spot.turn, (spot.turn + 180) % 360)]
        rules = replace(search.first.rules, layout=one)
        chosen = min(about, key=lambda spot: len(rules.judge(spot).why))
        found.append(_layout(exactly, search, chosen, one))
    return found


def _layout(exactly: Exactly, search: Search, spot: Spot, one: Layout) -> Facts:
    facts = {"name": one.name, "rotation_deg": spot.turn, **_solved(exactly, search, spot, one, always=True)}
    facts["grooves"] = len(one.grooves)
    facts["path_mm"] = [millimetres(*spot.to_plan(point)) for point in one.grooves[0]]
    facts["beside_mm"] = [[millimetres(*spot.to_plan(point)) for point in groove] for groove in one.grooves[1:]]
    return facts


def _solved(exactly: Exactly, search: Search, spot: Spot, one: Layout, *, always: bool = False) -> Facts:
    """Solved exactly if allowed; or `always`, where a layout is told of even if a hose or screw forbids it here."""
    verdict = replace(search.first.rules, layout=one).judge(spot)
    facts: Facts = {"allowed": verdict.allowed, "why": list(verdict.why), "worst_margin_k": None}
    if not verdict.allowed and not always:
        return facts
    exact = exactly.laid([Laid.by(search.first.plate, verdict, one)])
    keys = ("worst_margin_k", "worst_part", "flow_l_per_min", "drop_kpa", "loop_drop_kpa", "reynolds", "regime")
    return facts | {key: exact[key] for key in keys} | {"plate_mean_degc": exact["plate_mean_degc"]}

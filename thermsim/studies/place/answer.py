"""What a search says in a few sentences, and what to be wary of."""

from __future__ import annotations

from typing import Any

from thermsim.physics.ducts import rectangular_duct
from thermsim.studies.limits.entry import Limit
from thermsim.studies.limits.passages import transition
from thermsim.studies.place.setup import Search

Facts = dict[str, Any]
ABSURD = -100.0  # K; how much more than that a part without its cooler is over its limit is of no interest
CLOSE = 0.1  # K, leaders no further apart are called equal
LITTLE = 0.5  # K, between the best and the worst position: the place hardly matters


def answer(facts: Facts) -> list[str]:
    """Up to five sentences, the best that can be done first."""
    if not facts["leaders"]:
        return [f"No position is allowed: {_forbids(facts)}."]
    single = facts["leaders"][0]["exact_worst_margin_k"]
    pairs = {name: told["best"] for name, told in facts["pairs"].items() if told["best"]}
    where, two = _where(facts), _pairs(facts, pairs)
    better = pairs and max(pair["exact_worst_margin_k"] for pair in pairs.values()) > single + CLOSE
    first = [*two, where] if better else [where, *two]
    return [*first, _decides(facts), _forbids_sentence(facts), _loop(facts)][:5]


def margin(value: float, part: str) -> str:
    """A worst margin in words."""
    if value < ABSURD:
        return f"more than {-ABSURD:.0f} K over the limit ({part})"
    return f"{value:+.1f} K ({part}{', over its limit' if value < 0 else ''})"


def _where(facts: Facts) -> str:
    best, now, without = facts["leaders"][0], facts["now"], facts["without"]
    text = (
        f"Best place for one plate of {size_of(facts['plate_size_mm'])}: {at(best)}, on {', '.join(best['covered'])}; "
        f"worst margin {margin(best['exact_worst_margin_k'], best['exact_worst_part'])}"
    )
    same = now["size_mm"] in (facts["plate_size_mm"], facts["plate_size_mm"][::-1])
    what = "as drawn" if same else f"the plate of {size_of(now['size_mm'])} as drawn gives"
    text += f"; {what} {margin(now['worst_margin_k'], now['worst_part'])}"
    if without is None:
        return text + ", and without a plate some heat has no way out."
    return text + f", no plate at all {margin(without['worst_margin_k'], without['worst_part'])}."


def size_of(sides: list[float]) -> str:
    """Two lengths, mm."""
    return " x ".join(f"{value:g}" for value in sides) + " mm"


def at(spot: Facts) -> str:
    """A place in words."""
    return f"low corner at {spot['x_mm']:g}, {spot['y_mm']:g} mm, turned {spot['rotation_deg']}°"


def _pairs(facts: Facts, best: dict[str, Facts]) -> list[str]:
    if not best:
        return []
    name = max(best, key=lambda one: best[one]["exact_worst_margin_k"])
    pair = best[name]
    text = (
        f"Two plates in {name} reach a worst margin of "
        f"{margin(pair['exact_worst_margin_k'], pair['exact_worst_part'])}: "
        f"{at(pair['first'])} (on {', '.join(pair['first']['covered'])}) and "
        f"{at(pair['second'])} (on {', '.join(pair['second']['covered'])}); {_flow(pair)}"
    )
    for other, one in best.items():
        if other != name:
            text += f"; in {other} {one['exact_worst_margin_k']:+.1f} K with {_flow(one)}"
    return [text + "."]


def _flow(one: Facts) -> str:
    return f"{one['flow_l_per_min']:.2f} L/min at {one['loop_drop_kpa']:.0f} kPa"


def _decides(facts: Facts) -> str:
    counts, best = facts["counts"], facts["leaders"][0]
    part, number = next(iter(counts["limited_by"].items()))
    text = f"What decides: {part} is the worst part at {number} of {counts['allowed']} allowed positions"
    if counts["spread_k"] < LITTLE:
        text += f", and no position moves the worst margin by more than {counts['spread_k']:.1f} K"
    elif all(part not in leader["covered"] for leader in facts["leaders"]):
        text += ", and none of the best touches it"
    if best["sheet_margin_k"] is not None and best["sheet_margin_k"] > best["exact_worst_margin_k"] + CLOSE:
        text += f"; the parts on {facts['sheet']['name']} have {best['sheet_margin_k']:.1f} K left there"
    equal = [one for one in facts["leaders"] if best["exact_worst_margin_k"] - one["exact_worst_margin_k"] < CLOSE]
    if len(equal) > 1:
        text += f"; the best {len(equal)} solved again lie within {CLOSE:g} K, so choose among them by hoses"
    return text + "."


def _forbids(facts: Facts) -> str:
    reasons = list(facts["counts"]["reasons"].items())[:3]
    return ", ".join(f"{why} ({count})" for why, count in reasons)


def _forbids_sentence(facts: Facts) -> str:
    counts = facts["counts"]
    text = f"{counts['allowed']} of {counts['positions']} positions are allowed"
    return f"{text}; most often in the way: {_forbids(facts)}." if counts["reasons"] else f"{text}."


def _loop(facts: Facts) -> str:
    best = facts["leaders"][0]
    text = f"Loop of the one plate: {_flow(best)}, {best['drop_kpa']:.1f} of it in the plate"
    if best["hoses_mm"]:
        lengths, bends = " and ".join(f"{one:.0f}" for one in best["hoses_mm"]), sum(best["bends"])
        text += f"; hoses {lengths} mm to the wall with {bends or 'no'} bend{'s' if bends != 1 else ''}"
    others = [one for one in facts["layouts"][1:] if one.get("drop_kpa") is not None and one["allowed"]]
    if others:
        told = (f"{one['name']} {one['drop_kpa']:.1f} kPa and {one['worst_margin_k']:+.1f} K" for one in others)
        text += f"; other layouts: {', '.join(told)}"
    return text + "."


def limits_of(facts: Facts, search: Search) -> list[Limit]:
    """Whether the coolant in the plate flows in transition, at the place among the best where it does most."""
    plate = search.first.plate
    channel = search.case.spec.plate[plate].channel
    f_re = rectangular_duct(channel.width, channel.depth).laminar_f_re
    values = [one["reynolds"] for one in facts["leaders"] if one["reynolds"] is not None]
    told = [one for value in values for one in transition({f"plate.{plate}": (value, f_re)})]
    return sorted(told, key=lambda one: -one["weight"])[:1]


def warnings_of(facts: Facts, search: Search) -> list[str]:
    """What the search leaves out, and what is odd about its best places."""
    found = []
    leaders = facts["leaders"]
    seats = leaders[:1]
    for told in facts["pairs"].values():
        seats += [told["best"][which] for which in ("first", "second")] if told["best"] else []
    rocking = dict.fromkeys(one["rests_on"][0] for one in seats if len(one["rests_on"]) == 1)
    if rocking:
        found.append(f"a plate that rests on {' or '.join(rocking)} alone can rock: screws must keep it level")
    errors = [abs(one["screening_error_k"]) for one in leaders]
    errors += [abs(one["screening_error_k"]) for told in facts["pairs"].values() for one in told["leaders"]]
    if errors:
        found.append(
            f"the maps are of the screening; where it was solved again it was off by up to {max(0.01, *errors):.2f} K"
        )
    if any(one["name"] == "parallel" for one in facts["layouts"]):
        found.append(
            "parallel grooves are taken to share the flow evenly and their headers are not modelled; in metal the "
            "outer ones get less"
        )
    if "governors_frozen" in facts:
        found.append("governors are held at the speeds of the option as drawn; run the winner with them alive")
    if search.place.hose is None:
        found.append("hoses were not looked at: state [place.hose]")
    else:
        found.append("beyond their bend hoses are taken to run above the parts; stated hose lengths end at the wall")
    if search.spec.screw:
        found.append("holes for screws through the plate are not cut out of its conduction")
    found.append("what the plate does to the air stream is left out, as in the case itself")
    return found

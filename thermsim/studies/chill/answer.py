"""Does chilled air help here, and what to do about it: a few sentences from the facts of a chill study."""

from __future__ import annotations

from typing import Any

from thermsim.solve.noise import without
from thermsim.studies.chill.trial import RESOLVED
from thermsim.studies.chill.verdict import is_too_loud

Facts = dict[str, Any]


def answer(facts: Facts) -> list[str]:
    """Up to five sentences: whether it helps, with the governor live, against liquid, what stays dry, the trial."""
    told = [_whether(facts), _live(facts), _against_liquid(facts), _dry(facts), _trial(facts)]
    return [sentence for sentence in told if sentence]


def _whether(facts: Facts) -> str:
    told, base, coldest = facts["verdict"], facts["base"], facts["coldest_dry"]
    part, reason = told["part"], told["reason"]
    if reason == "wet":
        return (
            f"Chilled air does not help here: the room's dew point is {facts['dew_point_degc']:.1f} °C, so that no "
            f"inlet below {facts['room_degc']:.1f} °C stays {facts['dew_margin_k']:g} K above it; dry its air first."
        )
    if reason == "noise stays":
        return (
            f"Chilled air does not help here: every part keeps its limit as it is, and colder air leaves the noise "
            f"at {base['with_room_dba']:.1f} dB(A){without(facts['noise_without'])}, where "
            f"{facts['quiet_limit_dba']:g} are allowed, unless the fans are slowed."
        )
    air = f"air of {coldest['inlet_degc']:.1f} °C, the coldest {_which(facts)},"
    held = "with the speed frozen, " if facts["governed"] else ""
    cold = coldest["frozen"]
    before, after = base["parts_degc"][part], cold["parts_degc"][part]
    if reason == "lost in the uncertainty":
        return (
            f"Chilled air does not help here: {held}even {air} takes {part} down by {told['drop_k']:.1f} K only, from "
            f"{before:.1f} °C, which {RESOLVED:g} times {facts['uncertainty_k']:g} K of uncertainty hides."
        )
    if told["helps"] == "yes":
        limit = facts["limits_degc"].get(part)
        kept = ", kept as it is" if limit is not None and before <= limit else ""
        bound = "" if limit is None else f" (limit {limit:.0f} °C{kept})"
        more = f"{_kept_from(facts)}{_still_loud(facts)}"
        return f"Chilled air helps: {held}{air} takes {part} from {before:.1f} to {after:.1f} °C{bound}{more}."
    worst, over = cold["worst_part"], -cold["worst_margin_k"]
    left = f"{held}even {air} leaves {worst} at {cold['parts_degc'][worst]:.1f} °C, {over:.1f} K over its limit"
    if told["helps"] == "not enough":
        return f"Chilled air alone is not enough: {left}."
    rise, joint = base["parts_degc"][worst] - facts["room_degc"], told["joint"]
    return (
        f"Chilled air does not help here: {left}; {joint['drop_k']:.1f} of its {rise:.1f} K above the room lie in "
        f"joint.{joint['joint']}, which no air reaches: mend that first."
    )


def _which(facts: Facts) -> str:
    if facts["dew_point_degc"] is None:
        return "swept"
    return "that stays dry" if facts["coldest_dry"]["inlet_degc"] > facts["inlets_degc"][0] else "swept, still dry"


def _kept_from(facts: Facts) -> str:
    kept, margin = facts["frozen"]["limits_kept_from_degc"], facts["base"]["worst_margin_k"]
    if kept is None or margin is None or margin >= 0:
        return ""
    return f"; every limit is kept from an inlet of {kept:.1f} °C down"


def _still_loud(facts: Facts) -> str:
    cold = facts["coldest_dry"]["frozen"]
    if not is_too_loud(facts, cold):
        return ""
    level = f"{cold['with_room_dba']:.1f} dB(A){without(facts['noise_without'])}"
    return f", but the noise stays at {level}, where {facts['quiet_limit_dba']:g} are allowed"


def _live(facts: Facts) -> str:
    """With the governor live the noise moves, and parts that it does not watch may get hotter."""
    coldest, base, unsure = facts["coldest_dry"], facts["base"], facts["uncertainty_k"]
    if coldest is None or not facts["governed"]:
        return ""
    live, names = coldest["live"], " and ".join(f"governor.{name}" for name in facts["governors"])
    if base["with_room_dba"] is not None:
        gain = f"takes the noise from {base['with_room_dba']:.1f} to {live['with_room_dba']:.1f} dB(A) with the room"
        gain += without(facts["noise_without"])
    else:
        driven = [device for one in facts["governors"].values() for device in one["drives"]]
        speeds = [f"{d} from {100 * base['speeds'][d]:.0f} to {100 * live['speeds'][d]:.0f} %" for d in driven]
        gain = f"takes {' and '.join(speeds)}"
    told = f"With {names} live the same air {gain}"
    if live["worst_margin_k"] is not None:
        side = "over" if live["worst_margin_k"] < 0 else "within"
        told += f", and leaves {live['worst_part']} {abs(live['worst_margin_k']):.1f} K {side} its limit"
    hotter = [name for name, degc in live["parts_degc"].items() if degc > base["parts_degc"][name] + unsure]
    return told + (f"; hotter than now: {', '.join(hotter)}." if hotter else ".")


def best_liquid(facts: Facts) -> Facts | None:
    """The liquid option with the largest worst margin; the first where there are no limits."""
    return max(facts["equivalents"], key=lambda one: one["worst_margin_k"] or 0.0, default=None)


def _against_liquid(facts: Facts) -> str:
    option = best_liquid(facts)
    if option is None or option["frozen"]["deciding_part"] is None:
        return ""
    name, still, live = option["option"], option["frozen"], option["live"]
    part = still["deciding_part"]
    if still["all_parts_degc"] is not None:
        inlet = _degc(facts, still["all_parts_degc"])
        told = f"Cold air of {inlet} does for every part what {name} does ({part} decides)"
    else:
        told = (
            f"No air down to {facts['inlets_degc'][0]:.1f} °C does for every part what {name} does: {part} would still "
        )
        told += f"be {still['deciding_excess_k']:.1f} K warmer"
        if still["worst_margin_degc"] is not None:
            told += f"; its worst margin of {option['worst_margin_k']:.1f} K"
            told += f" takes air of {_degc(facts, still['worst_margin_degc'])}"
    level, left_out = option["with_room_dba"], without(option["noise_without"])
    if level is None or facts["base"]["with_room_dba"] is None:
        return told + "."
    if live["noise_degc"] is None:
        return f"{told}; at no inlet swept is the box as quiet as its {level:.1f} dB(A){left_out}."
    if level >= facts["base"]["with_room_dba"]:
        return f"{told}; it is no quieter than the box is now."
    with_it = ", with the governor live," if facts["governed"] else ""
    return f"{told}; its {level:.1f} dB(A){left_out}{with_it} take air of {_degc(facts, live['noise_degc'])}."


def _degc(facts: Facts, inlet: float) -> str:
    """An inlet temperature, and whether it is too cold to stay dry."""
    dry = facts["coldest_dry"]
    is_wet = facts["dew_point_degc"] is not None and (dry is None or inlet < dry["inlet_degc"])
    return f"{inlet:.1f} °C{' (too cold to stay dry)' if is_wet and inlet < facts['room_degc'] else ''}"


def _dry(facts: Facts) -> str:
    dew, weather = facts["dew_point_degc"], facts["weather"]
    if dew is None:
        return "Whether anything gets wet cannot be told: give room.humidity."
    lowest = facts["lowest_dry_inlet_degc"].items()
    bounds = [f"{'none swept' if degc is None else f'{degc:.1f} °C'} for {margin} K" for margin, degc in lowest]
    told = (
        f"Chilling does not dry the room's air: the coldest inlet that keeps every surface above its dew point of "
        f"{dew:.1f} °C is {' and '.join(bounds)} of margin"
    )
    if weather is None or "coldest dry inlet" not in weather["places"]:
        return told + "."
    hours = weather["places"]["coldest dry inlet"]["hours_below"]
    return f"{told}; with the moisture of {weather['file']} it would be wet for {hours} of {weather['hours']} hours."


def _trial(facts: Facts) -> str:
    told = facts["trial"]
    if told is not None:
        part = told["deciding_part"]
        speeds = ", speeds frozen" if facts["governed"] else ""
        name = "Cheapest trial: " if told["as_option"] is None else f"Trial: “{told['as_option']}”, "
        return (
            f"{name}air of {told['inlet_degc']:.1f} °C for {told['minutes']} min{speeds}; {part} should end "
            f"{told['expected'][part]['drop_k']:.1f} K lower; less than {told['refuted_below_k']:.1f} K refutes this."
        )
    if facts["coldest_dry"] is None:
        return "No trial with chilled air: dry the room's air or keep moisture out first."
    return (
        f"No trial with chilled air would tell anything: a drop of {RESOLVED * facts['uncertainty_k']:.1f} K needs "
        "colder air than stays dry here; dry the room's air, or change something else."
    )

"""A search for a plate's place as plain text: the answer first, then leaders, pairs, channel ways and layouts."""

from __future__ import annotations

from typing import Any

from thermsim.report.text import closing, columns, number, opening

Facts = dict[str, Any]


def place_text(facts: Facts, width: int = 110) -> str:
    """The whole report."""
    sections = [
        opening(facts, width, _about(facts)),
        leader_lines(facts),
        pair_lines(facts),
        way_lines(facts),
        layout_lines(facts),
        reason_lines(facts),
        timing_lines(facts),
        closing(facts, width),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def _about(facts: Facts) -> str:
    what = f"option {facts['option']}" if facts["option"] else "base case"
    width, depth = facts["plate_size_mm"]
    return (
        f"{what}; {facts['plate']}, {width:g} x {depth:g} mm, channel {facts['layout']}, "
        f"every {facts['pitch_mm']:g} mm on {facts['sheet']['name']}"
    )


def leader_lines(facts: Facts) -> list[str]:
    """The best positions, solved again; and the case as drawn and without a plate."""
    if not facts["leaders"]:
        return []
    rows = [["one plate at", "turned", "margin K", "worst part", "L/min", "drop kPa", "hoses mm", "touches"]]
    for one in facts["leaders"]:
        hoses = " + ".join(f"{length:.0f}" for length in one["hoses_mm"]) or "–"
        rows.append([
            _spot(one), f"{one['rotation_deg']}°", number(one["exact_worst_margin_k"], 2), one["exact_worst_part"],
            number(one["flow_l_per_min"], 2), number(one["drop_kpa"]), hoses, ", ".join(one["covered"]),
        ])  # fmt: skip
    for label, state in (("as drawn", facts["now"]), ("no plate", facts["without"])):
        if state is not None:
            flow, drop = number(state.get("flow_l_per_min"), 2), number(state.get("drop_kpa"))
            rows.append([label, "", number(state["worst_margin_k"], 2), state["worst_part"], flow, drop, "", ""])
    return columns(rows, " rr rr")


def _spot(one: Facts) -> str:
    return f"{one['x_mm']:g}, {one['y_mm']:g} mm"


def pair_lines(facts: Facts) -> list[str]:
    """The best pairs of each arrangement."""
    rows = [
        ["two plates in", "first at", "turned", "second at", "turned", "margin K", "worst part", "L/min", "loop kPa"]
    ]
    for name, told in facts["pairs"].items():
        for one in told["leaders"]:
            first, second = one["first"], one["second"]
            rows.append([
                name, _spot(first), f"{first['rotation_deg']}°", _spot(second), f"{second['rotation_deg']}°",
                number(one["exact_worst_margin_k"], 2), one["exact_worst_part"], number(one["flow_l_per_min"], 2),
                number(one["loop_drop_kpa"]),
            ])  # fmt: skip
    counts = [f"{told['count']:,} pairs in {name}" for name, told in facts["pairs"].items()]
    return [*columns(rows, "  r rr rr"), f"out of {' and '.join(counts)}"] if len(rows) > 1 else []


def way_lines(facts: Facts) -> list[str]:
    """The channel's direction at the best place."""
    if not facts["directions"]:
        return []
    rows = [["channel at the best place", "turned", "coolant enters", "margin K", "L/min", ""]]
    for one in facts["directions"]:
        told = [number(one["worst_margin_k"], 2), number(one.get("flow_l_per_min"), 2), "; ".join(one["why"])]
        rows.append([f"along {one['along']}", f"{one['rotation_deg']}°", one["inlet"], *told])
    return columns(rows, " r rr")


def layout_lines(facts: Facts) -> list[str]:
    """Layouts of the channel at the best place."""
    if not facts["layouts"]:
        return []
    rows = [["layout there", "along", "margin K", "of the sheet K", "plate kPa", "L/min", "Re", "regime", ""]]
    for one in facts["layouts"]:
        re = one.get("reynolds")
        rows.append([
            one["name"], one.get("along", "–"), number(one.get("worst_margin_k"), 2),
            number(one.get("sheet_margin_k"), 2), number(one.get("drop_kpa")), number(one.get("flow_l_per_min"), 2),
            number(re, 0), one.get("regime") or "", "; ".join(one["why"]),
        ])  # fmt: skip
    return columns(rows, "  rrrrr")


def reason_lines(facts: Facts) -> list[str]:
    """What forbids positions, the eight most frequent reasons."""
    counts = facts["counts"]
    reasons = list(counts["reasons"].items())
    lines = [f"{counts['allowed']} of {counts['positions']} positions allowed; what forbids the others:"]
    lines += [f"  {count:5d}  {why}" for why, count in reasons[:8]]
    if len(reasons) > 8:
        lines.append(f"         and {len(reasons) - 8} reasons more, in place.json")
    return lines if reasons else []


def timing_lines(facts: Facts) -> list[str]:
    """How long it took, and what solving each position would have."""
    timing = facts["timing"]
    if timing["exact_each_s"] is None:
        return []
    return [
        f"screened in {timing['screening_s']:.1f} s, {timing['exact_each_s']:.2f} s for each solved again: "
        f"{timing['speed_up']:.0f} times faster than solving every allowed position "
        f"({facts['counts']['unknowns']:,} unknowns)"
    ]

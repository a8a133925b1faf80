"""A sweep as plain text: the answer, the tornado, what samples tell, one input's line."""

from __future__ import annotations

from typing import Any

from thermsim.report.text import closing, columns, number, opening, unit
from thermsim.studies.sweep.answer import crossed, plain, shown
from thermsim.studies.sweep.answer import width as breadth

Table = dict[str, Any]
MOST_ROWS = 12
MANY_STATES = 6  # parts told along a line, those with the least margin


def sweep_text(facts: Table, width: int = 110) -> str:
    """The whole report, the answer first."""
    blocks = [
        opening(facts, width, facts["option"] or "base case"),
        line_lines(facts["one"]) if facts["one"] else [],
        tornado_lines(facts) if facts["tornado"] else [],
        sample_lines(facts["samples"]) if facts["samples"] else [],
        closing(facts, width),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def tornado_lines(facts: Table) -> list[str]:
    """What the low and the high end of each input do to the worst part and the noise; the widest first."""
    tornado = facts["tornado"]
    names = [one["name"] for one in tornado["outputs"]]
    asked = [
        name for name in (f"part.{tornado['worst_part']}", "noise")
        if name in names and any(breadth(row, name) > 0 for row in tornado["rows"])
    ]  # fmt: skip
    if not asked:
        return []
    about = {one["name"]: one for one in facts["inputs"]}
    heads = [f"{plain(name)}, {'dB' if name == 'noise' else 'K'}" for name in asked]
    rows = [["input", "low", "high", *heads]]
    order = sorted(tornado["rows"], key=lambda row: -max(breadth(row, name) / _scale(tornado, name) for name in asked))
    for row in order[:MOST_ROWS]:
        one = about[row["input"]]
        ends = [shown(one[key], one["dimension"]) for key in ("low", "high")]
        effects = [" to ".join(f"{round(end, 2) + 0.0:+.2f}" for end in row["effects"][name]) for name in asked]
        rows.append([plain(row["input"]), *ends, *effects])
    off = tornado["checked"]["largest_relative"]
    how = f"slopes by adjoint solves; {len(tornado['checked']['inputs'])} checked by small steps, {100 * off:.2g} % off"
    left = len(tornado["rows"]) - MOST_ROWS
    more = [f"… and {left} with less effect"] if left > 0 else []
    return ["what each input does by itself, from its low to its high end", *columns(rows, " rrrr"), *more, how]


def _scale(tornado: Table, name: str) -> float:
    """The widest effect on an output, so that outputs of different units rank together."""
    return max(breadth(row, name) for row in tornado["rows"])


def sample_lines(samples: Table) -> list[str]:
    """Spread of every output and the share that keeps its limit."""
    rows = [["output", "5 %", "middle", "95 %", "unit", "limit", "kept in", "95 % sure"]]
    for name, one in samples["outputs"].items():
        if one["limit"] is None and not name.startswith("part.") and one["p95"] == one["p05"]:
            continue
        digits = 2 if one["unit"] in ("", "L/min") else 1
        row = [plain(name), *(number(one[key], digits) for key in ("p05", "p50", "p95")), unit(one["unit"])]
        if one["limit"] is None:
            rows.append([*row, "", "", ""])
        else:
            low, high = (f"{100 * one[key]:.0f}" for key in ("pass_low", "pass_high"))
            rows.append([*row, f"{one['limit']:g}", f"{100 * one['pass_probability']:.0f} %", f"{low} to {high} %"])
    checked = samples["checked"]
    return [
        f"{samples['count']} samples of all inputs together ({samples['method']}, seed {samples['seed']})",
        *columns(rows, " rrr rrr"),
        *together_lines(samples),
        *driver_lines(samples["drivers"]),
        f"{samples['told_by_family']} told in the fields that span them, each within "
        f"{checked['largest_indicator_k']:.2g} K by its own heat balance; {samples['in_full']} in full; "
        f"{samples['failed']} without a steady state",
        f"{checked['count']} at random in full: within {checked['largest_k']:.2g} K",
    ]


def together_lines(samples: Table) -> list[str]:
    """The share that keeps all there is to keep to, and how it came about."""
    if samples["all_pass_probability"] is None:
        return []
    share, low, high = (100 * samples[key] for key in ("all_pass_probability", "all_pass_low", "all_pass_high"))
    stages = ", ".join(f"{one['count']}: {100 * one['all_pass_probability']:.0f} %" for one in samples["convergence"])
    return [f"all kept together in {share:.1f} % ({low:.1f} to {high:.1f} %); by number of samples {stages}"]


def driver_lines(drivers: list[Table]) -> list[str]:
    """For each limit that some samples break, the inputs that decide it."""
    names = list(dict.fromkeys(one["of"] for one in drivers))
    if not names:
        return []
    lines = ["what decides (rank correlation with the margin; minus: more of it leaves less)"]
    for name in names:
        mine = [f"{plain(one['input'])} {one['rank_correlation']:+.2f}" for one in drivers if one["of"] == name]
        lines.append(f"  {plain(name)}: {', '.join(mine)}")
    return lines


def line_lines(one: Table) -> list[str]:
    """One input's steps: the parts with the least margin, the noise, the speeds that move."""
    told = [state for state in one["states"] if "failed" not in state]
    if not told:
        return ["no step has a steady state"]
    parts = parts_of_interest(one, told)
    speeds = [name for name in told[0]["speeds"] if len({round(state["speeds"][name], 4) for state in told}) > 1]
    has_noise = told[0]["with_room_dba"] is not None
    heads = [*(f"{plain(name)} °C" for name in parts), "worst K", *(["dB(A)"] if has_noise else [])]
    rows = [[one["of"], *heads, *(f"{name} %" for name in speeds)]]
    for value, state in zip(one["values"], one["states"], strict=True):
        if "failed" in state:
            rows.append([shown(value, one["dimension"]), "no steady state", *[""] * (len(rows[0]) - 2)])
            continue
        row = [shown(value, one["dimension"]), *(number(state["parts_degc"][name]) for name in parts)]
        row += [number(state["worst_margin_k"]), *([number(state["with_room_dba"])] if has_noise else [])]
        rows.append([*row, *(number(100 * state["speeds"][name], 0) for name in speeds)])
    return [*columns(rows, "r" * len(rows[0])), *(crossed(one, crossing) for crossing in one["crossings"])]


def parts_of_interest(one: Table, told: list[Table]) -> list[str]:
    """Parts whose limits are crossed or nearest, then those that move most."""
    crossed = [crossing["name"].removesuffix(" limit") for crossing in one["crossings"] if crossing["of"] == "limit"]
    worst = [state["worst_part"] for state in told if state["worst_part"]]
    moved = {name: abs(told[-1]["parts_degc"][name] - told[0]["parts_degc"][name]) for name in told[0]["parts_degc"]}
    most = sorted(moved, key=lambda name: -moved[name])
    return list(dict.fromkeys([*worst, *crossed, *most]))[:MANY_STATES]

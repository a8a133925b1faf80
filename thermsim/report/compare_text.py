"""The comparison of options as plain text: what fails first, then one table of answers and one of parts."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from thermsim.report.decide_text import (
    firmness_lines,
    part_share_lines,
    ranking_lines,
    sensor_lines,
    share_lines,
    state_lines,
)
from thermsim.report.limits_text import limit_texts
from thermsim.report.text import columns, minutes, number, opening, paragraphs
from thermsim.solve.noise import left_out
from thermsim.studies.words import told_apart

Table = dict[str, Any]
PARTS_HEAD = "hottest °C, in the run or where it leads, and the margin that leaves, K (! over the limit, ↑ without end)"
SETTLED = "warm-up, air and coolant: where an option settles, before its mishap if that comes later"


def compare_text(facts: Table, width: int = 110) -> str:
    """A comparison as a report of about `width` columns, the answer first."""
    summaries = facts["options"]
    blocks = [
        opening(facts, width),
        verdict_lines(facts),
        answer_lines(facts),
        ranking_lines(facts),
        firmness_lines(facts),
        share_lines(facts),
        part_share_lines(facts),
        sensor_lines(facts),
        state_lines(facts),
        *part_blocks(summaries, width),
        paragraphs(warning_texts(facts), width),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def verdict_lines(facts: Table) -> list[str]:
    """Which options meet every must-have, what the others fail, and what cannot be told."""
    summaries = facts["options"]
    failed = {name: [must["name"] for must in musts_of(facts, name, False)] for name in summaries}
    untold = {name: [must["name"] for must in musts_of(facts, name, None)] for name in summaries}
    good = [name for name in summaries if not failed[name] and not untold[name]]
    lines = [f"meet every must-have: {'; '.join(good)}" if good else "no option is known to meet every must-have"]
    for name, summary in summaries.items():
        if failed[name]:
            lines.append(f"  {name}: fails {', '.join(counted(failed[name]))}{_first_over(summary)}")
        if untold[name]:
            why = dict.fromkeys(must.get("why", "") for must in musts_of(facts, name, None))
            lines.append(f"  {name}: cannot tell {', '.join(untold[name])} ({'; '.join(why)})")
    return lines


def musts_of(facts: Table, name: str, met: bool | None) -> list[Table]:
    """Must-haves that an option fails (`met` False) or that cannot be told (None), in its run and in every state."""
    if facts["decision"] is None:
        return [must for must in facts["options"][name]["must_haves"] if must["met"] is met]
    found: list[Table] = facts["decision"]["must_haves"][name]["cannot_tell" if met is None else "failed"]
    return found


def _met(facts: Table, name: str) -> str:
    """How an option stands with its must-haves, in two words."""
    failed, untold = musts_of(facts, name, False), musts_of(facts, name, None)
    return f"{len(failed)} failed" if failed else f"{len(untold)} untold" if untold else "met"


def counted(names: Sequence[str]) -> list[str]:
    """Names, with those that differ only in a number counted together: "adc ×8 limit"."""
    alike: dict[str, list[str]] = {}
    for name in names:
        alike.setdefault(re.sub(r"\d+ limit$", "# limit", name), []).append(name)
    return [group[0] if len(group) == 1 else stem.replace("#", f" ×{len(group)}") for stem, group in alike.items()]


def _first_over(summary: Table) -> str:
    """In a run with a mishap, the part that is first over its limit, and when."""
    over = {name: at for name, part in summary["parts"].items() if (at := part["over_limit_at_s"]) is not None}
    if not over or not summary["mishaps"]:
        return ""
    first = min(over, key=lambda name: over[name])
    return f"; {first} first, {minutes(over[first])} after switch-on"


def worst_margin(summary: Table) -> tuple[str, float] | None:
    """The part nearest to its limit (or furthest over) and its margin, K."""
    margins = {n: p["margin_k"] for n, p in summary["parts"].items() if p["margin_k"] is not None}
    if not margins:
        return None
    name = min(margins, key=lambda part: margins[part])
    return name, margins[name]


def answer_lines(facts: Table) -> list[str]:
    """One line an option: must-haves, worst margin, warm-up, flows, coolant, noise."""
    rows = [["option", "must-haves", "worst margin", "", "warm-up", "air", "coolant", "coolant", "noise"]]
    rows.append(["", "", "K", "part", "", "m³/h", "L/min", "°C", "dB(A)"])
    for name, summary in facts["options"].items():
        worst = worst_margin(summary)
        air = next(iter(summary["air"].values()), None)
        loop = next(iter(summary["coolant"].values()), None)
        rows.append([
            name,
            _met(facts, name),
            told_apart(worst[1], 0.0) if worst else "–",
            worst[0] if worst else "",
            minutes(summary["warm_up"].get("time_s")),
            number(air["flow_m3_per_h"]) if air else "–",
            number(loop["flow_l_per_min"], 2) if loop else "–",
            f"{loop['coldest_degc']:.1f}–{loop['hottest_degc']:.1f}" if loop else "–",
            number(summary["noise"]["with_room_dba"]),
        ])  # fmt: skip
    had_mishap = any(summary["mishaps"] for summary in facts["options"].values())
    notes = [SETTLED] if had_mishap else []
    unheard: dict[str, list[str]] = {}
    for name, devices in facts["noise_without"].items():
        unheard.setdefault(left_out(devices), []).append(name)
    notes += [f"noise {text}: {'; '.join(names)}" for text, names in unheard.items()]
    return columns(rows, "  r rrrrr") + notes


def part_blocks(summaries: Mapping[str, Table], width: int) -> list[list[str]]:
    """What every part is judged by, and its margin, in as many blocks of options as the width needs."""
    names = list(summaries)
    parts = list(next(iter(summaries.values()))["parts"])
    first = max(len(part) for part in parts) + 12 if parts else 0
    per_block = max(1, (width - first) // 16)
    blocks = []
    for start in range(0, len(names) if parts else 0, per_block):
        chosen = names[start : start + per_block]
        lines = [PARTS_HEAD] if start == 0 else []
        blocks.append(lines + _part_block({name: summaries[name] for name in chosen}, parts))
    return blocks


def _part_block(summaries: Mapping[str, Table], parts: list[str]) -> list[str]:
    heads = [wrap(name, 14) for name in summaries]
    depth = max(len(head) for head in heads)
    rows = [["part" if k == depth - 1 else "", "limit" if k == depth - 1 else ""] for k in range(depth)]
    for head in heads:
        for k in range(depth):
            rows[k].append(([""] * (depth - len(head)) + head)[k])
    for part in parts:
        told = [summary["parts"].get(part) for summary in summaries.values()]
        limit = next((t["limit_degc"] for t in told if t and t["limit_degc"] is not None), None)
        rows.append([part, number(limit, 0), *[_cell(t) for t in told]])
    return columns(rows, " " + "r" * (1 + len(heads)))


def _cell(part: Table | None) -> str:
    if part is None:
        return "–"
    margin, worst = part["margin_k"], told_apart(part["worst_degc"], part["limit_degc"])
    worst += "" if part["steady_at_end_degc"] is not None else "↑"
    if margin is None:
        return f"{worst}        "
    sign = "+" if margin >= 0 else ""
    return f"{worst} ({sign}{told_apart(margin, 0.0)}{'!' if margin < 0 else ''})"


def wrap(text: str, width: int) -> list[str]:
    """Words of a text in lines of a width (longer words are kept whole)."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return lines


def warning_texts(facts: Table) -> list[str]:
    """Each limit and warning once, with the options it concerns; those of the comparison; the cautions of all."""
    summaries = facts["options"]
    concerned: dict[str, list[str]] = {}
    cautions: dict[str, None] = {}
    for name, summary in summaries.items():
        for text in summary["warnings"]:
            concerned.setdefault(text, []).append(name)
        cautions |= dict.fromkeys(summary["cautions"])
    every = len(summaries)
    lines = limit_texts(facts["limits"], every)
    lines += [
        f"warning: {text}" + ("" if len(names) == every else f" [{'; '.join(names)}]")
        for text, names in concerned.items()
    ]
    lines += [f"warning: {text}" for text in facts["warnings"] if text not in concerned]
    return lines + [f"caution: {text}" for text in cautions]

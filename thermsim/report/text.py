"""Summaries as plain text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import Any

from thermsim.case.schema import Spec
from thermsim.report.doubling_text import HEAD, doubling_about, doubling_rows
from thermsim.report.ledger import plain_way
from thermsim.report.limits_text import limit_texts
from thermsim.solve.noise import without
from thermsim.studies.musts import verdict_text

Table = dict[str, Any]
NUMBER_AND_UNIT = re.compile(r"(\d) (?=(?:[a-zµ]{0,2}[A-Z°]|%|mm|min|s\b|h\b|m[²³]|dB))")


def opening(facts: Table, width: int, about: str = "") -> list[str]:
    """How the text of every study begins: what it is of, and the answer at once."""
    invented = " (invented demo data)" if facts["invented"] else ""
    return [f"{facts['title']}{invented}{f': {about}' if about else ''}", *paragraphs(facts["answer"], width, "• ")]


def closing(facts: Table, width: int) -> list[str]:
    """How it ends: what to be wary of."""
    texts = limit_texts(facts.get("limits", []))
    texts += [f"{kind}: {text}" for kind in ("warning", "caution") for text in facts[f"{kind}s"]]
    return paragraphs(texts, width)


def paragraphs(texts: Iterable[str], width: int, mark: str = "") -> list[str]:
    """Texts in lines of a width, each text beginning with a mark and hanging; a number stays with its unit."""
    whole = (NUMBER_AND_UNIT.sub("\\1\u00a0", text) for text in texts)
    lines = [line for text in whole for line in wrap(text, width, initial_indent=mark, subsequent_indent="  ")]
    return [line.replace("\u00a0", " ") for line in lines]


def columns(rows: Sequence[Sequence[str]], right: str = "") -> list[str]:
    """Rows as lines with aligned columns; `right` has an r for each column set flush right."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            text.rjust(width) if right[k : k + 1] == "r" else text.ljust(width)
            for k, (text, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def number(value: float | None, digits: int = 1) -> str:
    """A number, or a dash where there is none."""
    return "–" if value is None else f"{value:.{digits}f}"


def minutes(seconds: float | None) -> str:
    """A time as a person says it."""
    if seconds is None:
        return "not yet"
    if seconds < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.1f} min"


def heading(summary: Table) -> list[str]:
    """Title line and what was run."""
    invented = " (invented demo data)" if summary["invented"] else ""
    what = f"option {summary['option']}" if summary["option"] else "base case"
    if summary["mishaps"]:
        what += f", mishap {' and '.join(summary['mishaps'])}"
    return [f"{summary['title']}{invented}", f"{what}; {summary['stop_reason']}"]


def run_text(summary: Table, spec: Spec, width: int = 110) -> str:
    """The report of one run: must-haves first, then temperatures, warm-up, streams, noise, heat, limits, warnings."""
    sections = [
        heading(summary),
        musts_lines(summary),
        part_lines(summary),
        warm_up_lines(summary),
        stream_lines(summary),
        noise_lines(summary),
        heat_lines(summary, spec),
        doubling_lines(summary["doubling"], width),
        paragraphs(limit_texts(summary["limits"]), width),
        [f"warning: {text}" for text in summary["warnings"]],
        [f"caution: {text}" for text in summary["cautions"]],
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def doubling_lines(told: Table | None, width: int) -> list[str]:
    """What halving cells and steps moves, a line a part; nothing where it was not asked for."""
    if told is None:
        return []
    return paragraphs([doubling_about(told)], width) + columns([HEAD, *doubling_rows(told)], " rrrrrrr")


def musts_lines(summary: Table) -> list[str]:
    """What fails, or that nothing does."""
    failed = [must for must in summary["must_haves"] if must["met"] is False]
    unknown = [
        f"{must['name']} ({must['why']})" if must.get("why") else must["name"]
        for must in summary["must_haves"] if must["met"] is None
    ]  # fmt: skip
    count = len(summary["must_haves"])
    lines = [f"MUST-HAVE NOT MET: {verdict_text(must)}" for must in failed]
    if not failed:
        lines.append(f"{count - len(unknown)} of {count} must-haves met" if unknown else f"all {count} must-haves met")
    if unknown:
        lines.append(f"cannot tell: {'; '.join(unknown)}")
    return lines


def unit(name: str) -> str:
    """A unit as it is written."""
    return {"degC": "°C", "m3/h": "m³/h"}.get(name, name)


def part_lines(summary: Table) -> list[str]:
    """One line a part."""
    mishap = any(part["steady_at_end_degc"] != part["steady_degc"] for part in summary["parts"].values())
    head = ["part", "W", "settles °C", "peak °C", "limit", "margin K", "settled after"]
    if mishap:
        head += ["then °C", "over limit at"]
    rows = [head]
    for name, part in summary["parts"].items():
        row = [
            name, number(part["watts"]), number(part["steady_degc"]), number(part["peak_degc"]),
            number(part["limit_degc"], 0), number(part["margin_k"]), minutes(part["warm_up_s"]),
        ]  # fmt: skip
        if mishap:
            over = part["over_limit_at_s"]
            row += [number(part["steady_at_end_degc"]), "never" if over is None else minutes(over)]
        rows.append(row)
    return columns(rows, " rrrrrrrr")


def warm_up_lines(summary: Table) -> list[str]:
    """Warm-up by the definition in use, then by the published rate criteria."""
    told = summary["warm_up"]
    if "slowest_part" not in told:
        return []
    within = f"within {told['tolerance_k']:g} K of its end value and staying"
    if told["time_s"] is None:
        lines = [f"warm-up: not reached in this run; {told['slowest_part']} is not yet {within}"]
    else:
        lines = [f"warm-up: {minutes(told['time_s'])} until the slowest, {told['slowest_part']}, is {within}"]
    for name, met in told["criteria"].items():
        if met["time_s"] is None:
            lines.append(f"  by {name}: not met within the run")
        else:
            still = met["still_to_come_k"]
            lines.append(f"  by {name}: {minutes(met['time_s'])}, with up to {still:.2f} K still to come")
    for name, part in summary["parts"].items():
        reading = part.get("reading")
        if reading and reading["tolerance_ppm"] is not None:
            settled = reading["warm_up_s"]
            after = "not steady in this run" if settled is None else f"steady after {minutes(settled)}"
            lines.append(
                f"  reading of {name}: starts {reading['start_ppm']:+.0f} ppm off, "
                f"within {reading['tolerance_ppm']:g} ppm: {after}"
            )
    return lines


def stream_lines(summary: Table) -> list[str]:
    """Air and coolant."""
    lines = []
    for name, air in summary["air"].items():
        lines.append(
            f"air {name}: {air['flow_m3_per_h']:.1f} m³/h at {air['pressure_pa']:.1f} Pa, "
            f"{air['inlet_degc']:.1f} to {air['outlet_degc']:.1f} °C"
        )
    for name, loop in summary["coolant"].items():
        lines.append(
            f"coolant {name} ({loop['coolant']}): {loop['flow_l_per_min']:.2f} L/min at "
            f"{loop['pressure_pa'] / 1e3:.1f} kPa, {loop['coldest_degc']:.1f} to {loop['hottest_degc']:.1f} °C"
        )
        for address, element in loop["elements"].items():
            flow = f", Re {element['reynolds']:.0f} {element['regime']}" if element["reynolds"] is not None else ""
            lines.append(f"  {address}: {element['drop_pa'] / 1e3:.2f} kPa{flow}")
        for address, radiator in loop["radiators"].items():
            lines.append(
                f"  {address}: {radiator['watts']:.1f} W at {radiator['conductance_w_per_k']:.1f} W/K "
                "(coolant in to air in)"
            )
    for name, pipe in summary["heat_pipes"].items():
        lines.append(
            f"heat pipe {name}: {pipe['load_w']:.1f} W of {pipe['capacity_w']:.0f} W; with one lost "
            f"{pipe['capacity_one_lost_w']:.0f} W (capacity is good to a factor of 2)"
        )
    return lines


def noise_lines(summary: Table) -> list[str]:
    """Noise and the speeds behind it."""
    noise = summary["noise"]
    lines = ["noise: none was stated"]
    if noise["sources_dba"] is not None:
        lines = [f"noise: {noise['sources_dba']:.1f} dB(A){_in_the_room(noise)}"]
        lines[0] += without(noise["without"])
    speeds = [
        f"{key} {100 * speed:.0f} %{_turns(summary['fans'].get(key))}" for key, speed in summary["speeds"].items()
    ]
    if speeds:
        lines.append(f"speeds: {', '.join(speeds)}")
    return [*lines, *heard_lines(noise)]


def _in_the_room(noise: Table) -> str:
    away = "" if noise["listener_m"] is None else f" at {noise['listener_m']:g} m"
    if noise["room_dba"] is None:
        return away
    whether = {True: ", heard", False: ", not heard", None: ""}[noise["heard"]]
    return (
        f"{away}, {noise['with_room_dba']:.1f} dB(A) with the room: "
        f"{noise['raises_room_by_db']:.1f} dB above its floor{whether}"
    )


def heard_lines(noise: Table) -> list[str]:
    """Which octaves and tones stand out from the room, and how long the run is louder than it must be."""
    lines = []
    bands, over_time = noise["bands"], noise["over_time"]
    if bands and bands["heard"]:
        heard = [f"{hz:.0f}" for hz, one in zip(bands["octaves_hz"], bands["heard"], strict=True) if one]
        lacking = f" (no noise_bands: {', '.join(bands['without_bands'])})" if bands["without_bands"] else ""
        lines.append(f"  octaves heard above the room: {', '.join(heard) + ' Hz' if heard else 'none'}{lacking}")
    for address, tone in noise["tones"].items():
        if tone["missing"]:
            lines.append(
                f"  tone of {address}: cannot tell whether it is heard; ask for {' and '.join(tone['missing'])}"
            )
        elif tone["over_room_db"] is not None:
            whether = "heard" if tone["heard"] else "not heard"
            lines.append(
                f"  tone of {address}, {tone['hz']:.0f} Hz: its octave is {tone['over_room_db']:+.0f} dB "
                f"against the room's, {whether}"
            )
    if over_time and over_time["share_above_must_have"]:
        lines.append(
            f"  louder than {over_time['must_have_dba']:g} dB(A) for {100 * over_time['share_above_must_have']:.0f} % "
            f"of the run; loudest {over_time['loudest_dba']:.1f} dB(A) at {minutes(over_time['loudest_at_s'])}"
        )
    return lines


def _turns(fan: Table | None) -> str:
    if fan is None or not fan["rev_per_min"]:
        return ""
    tone = f", tone {fan['blade_tone_hz']:.0f} Hz" if fan["blade_tone_hz"] else ""
    return f" ({fan['rev_per_min']:.0f} rpm{tone})"


def heat_lines(summary: Table, spec: Spec) -> list[str]:
    """Where the heat goes, adding up."""
    ledger = summary["ledger"]
    rows = [["supplied", f"{ledger['supplied_w']:.2f}", "W"]]
    small = 0.0
    for name, watts in ledger["leaving_w"].items():
        if abs(watts) < 0.005 * abs(ledger["supplied_w"]):
            small += watts
        else:
            rows.append([f"  {plain_way(name, spec)}", f"{watts:.2f}", "W"])
    if small:
        rows.append(["  all other ways", f"{small:.2f}", "W"])
    rows.append(["  still being stored", f"{ledger['stored_w']:.2f}", "W"])
    residual = summary["energy"]["residual_fraction"]
    return [*columns(rows, " r "), f"energy over the run closes to {100 * abs(residual):.1g} %"]

"""The sweep on the page: what each input does, how sure the result is, and one input followed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.report.page.curves import chart, plain_line
from thermsim.report.style import ALARM
from thermsim.report.sweep_text import parts_of_interest
from thermsim.studies.sweep.answer import crossed, judged_in_words, plain, shown, width

Facts = dict[str, Any]
MOST_ROWS = 12
LEAST = 0.005  # of the widest bar; what is less is not shown


def sweep_content(facts: Facts) -> Facts:
    """Rows of the tornado (worst part, then noise), of the samples and their drivers."""
    return {
        "option": facts["option"],
        "answer": facts["answer"],
        "told": facts["samples"],
        "judged": judged_in_words(facts["samples"]) if facts["samples"] else "",
        "inputs": [one | {"ends": [shown(one[key], one["dimension"]) for key in ("nominal", "low", "high")]}
                   for one in facts["inputs"]],
        "tornados": tornados(facts) if facts["tornado"] else [],
        "samples": sample_rows(facts["samples"]) if facts["samples"] else [],
        "drivers": drivers(facts["samples"]) if facts["samples"] else [],
        "crossings": crossings(facts["one"]) if facts["one"] else [],
    }  # fmt: skip


def tornados(facts: Facts) -> list[Facts]:
    """For the part nearest to its limit and for the noise: the inputs that move it most, with what each end does."""
    told, about = facts["tornado"], {one["name"]: one for one in facts["inputs"]}
    units = {one["name"]: one for one in told["outputs"]}
    found = []
    for name in (f"part.{told['worst_part']}", "noise"):
        if name not in units:
            continue
        rows = sorted(told["rows"], key=lambda row: -width(row, name))[:MOST_ROWS]
        most = max((width(row, name) for row in rows), default=0.0)
        if most <= 0:
            continue
        shown_rows = [row for row in rows if width(row, name) > LEAST * most]
        found.append({
            "of": plain(name), "unit": "dB" if name == "noise" else "K", "most": most,
            "rows": [_tornado_row(row, about[row["input"]], name, most) for row in shown_rows],
        })  # fmt: skip
    return found


def _tornado_row(row: Facts, one: Facts, output: str, most: float) -> Facts:
    """An input and the bar of its effect, in per cent of a bar that reaches from -most to most."""
    low, high = row["effects"][output]
    left, right = sorted((low, high))
    return {
        "input": plain(row["input"]),
        "ends": [shown(one[key], one["dimension"]) for key in ("low", "high")],
        "effects": [low, high],
        "left": 50.0 + 50.0 * min(left, 0.0) / most,
        "middle": 50.0 + 50.0 * (0.0 if left <= 0.0 <= right else left) / most,
        "right": 50.0 + 50.0 * max(right, 0.0) / most,
        "falls": low > high,  # the low end of the input is what raises the output
    }


def sample_rows(samples: Facts) -> list[Facts]:
    """Outputs with a limit, the least likely to hold first, then the rest that vary."""
    rows = [one | {"name": _of_what(name)} for name, one in samples["outputs"].items() if one["p95"] > one["p05"]]
    judged = [one for one in rows if one["pass_probability"] is not None]
    return sorted(judged, key=lambda one: one["pass_probability"]) + [one for one in rows if one not in judged]


def _of_what(output: str) -> str:
    """An output in words, with the kind of thing it is of: "air main" becomes "air of airway main"."""
    kind, _, name = output.partition(" ")
    where = {"air": "airway ", "coolant": "loop ", "speed": ""}
    return f"{kind} of {where[kind]}{name}" if name and kind in where else plain(output)


def drivers(samples: Facts) -> list[Facts]:
    """For each limit that some samples break, the inputs that decide it."""
    names = dict.fromkeys(one["of"] for one in samples["drivers"])
    found = []
    for name in names:
        mine = [one | {"input": plain(one["input"])} for one in samples["drivers"] if one["of"] == name]
        found.append({"of": plain(name), "inputs": mine})
    return found


def crossings(one: Facts) -> list[str]:
    """Where the line of one input crosses limits, in words."""
    return [crossed(one, crossing) for crossing in one["crossings"]]


def sweep_charts(facts: Facts) -> dict[str, Facts]:
    """Charts by name: parts and noise along the one input, where one was followed."""
    one = facts["one"]
    told = [(value, state) for value, state in zip(one["values"], one["states"], strict=True)
            if "failed" not in state] if one else []  # fmt: skip
    if not told:
        return {}
    values, states = [value for value, _ in told], [state for _, state in told]
    label = f"{plain(one['of'])}, {one['unit']}"
    parts = parts_of_interest(one, states)
    lines = [
        plain_line(name, values, [state["parts_degc"][name] for state in states], k) for k, name in enumerate(parts)
    ]
    charts = {"sweep_parts": chart(label, "°C", lines) | {"marks": _marks(one)}}
    noise: Sequence[float | None] = [state["with_room_dba"] for state in states]
    if None not in noise:
        charts["sweep_noise"] = chart(label, "dB(A) with the room", [plain_line("noise", values, noise)])
    return charts


def _marks(one: Facts) -> list[Facts]:
    marks = [{"x": crossing["at"], "text": plain(crossing["name"]), "colour": ALARM} for crossing in one["crossings"]]
    return marks + ([] if one["nominal"] is None else [{"x": one["nominal"], "text": "as it is", "colour": "#4c5861"}])

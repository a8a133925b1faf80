"""A before/after comparison as plain text: the answer, what changed where, the model beside, the runs behind it."""

from __future__ import annotations

from typing import Any

from thermsim.bench.paired.answer import give_or_take, judged, short
from thermsim.report.text import closing, columns, minutes, number, opening, paragraphs

Facts = dict[str, Any]
VERDICTS = {"lower": ("cooler", "less"), "higher": ("WARMER", "more"), "not told": ("cannot tell", "cannot tell")}


def bench_text(facts: Facts, width: int = 110) -> str:
    """The whole report."""
    sections = [
        opening(facts, width, _about(facts)),
        change_lines(facts),
        reading_lines(facts),
        budget_lines(facts, width),
        warm_up_lines(facts),
        run_lines(facts),
        stream_lines(facts),
        paragraphs(
            [f"mended: {run['name']}: {'; '.join(run['mended'])}" for run in facts["runs"] if run["mended"]], width
        ),
        closing(facts, width),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def _about(facts: Facts) -> str:
    stood = [f"{facts['counts'][one]} × {facts['options'][one] or 'base case'}" for one in ("before", "after")]
    return f"before ({stood[0]}) and after ({stood[1]}){', in pairs' if facts['settings']['paired'] else ''}"


def change_lines(facts: Facts) -> list[str]:
    """One line a temperature: rises over the room, the change with its 95 % interval, the model beside."""
    rows = [row for row in facts["rows"] if row["is_rise"]]
    if not rows:
        return []
    modelled = any(row["model"] for row in rows)
    head = ["rise over room, K", "before", "after", "change (95 %)", ""]
    table = [[*head, "model says", "model off before", "and after"] if modelled else head]
    for row in rows:
        star = "*" if row["before"]["extrapolated"] or row["after"]["extrapolated"] else ""
        line = [
            f"{short(row['channel'])}{star}", _minus(row["before"]["mean"]), _minus(row["after"]["mean"]),
            _signed(row), VERDICTS[row["verdict"]][0],
        ]  # fmt: skip
        table.append([*line, *_model_cells(row["model"])] if modelled else line)
    lines = columns(table, " rrr rrr")
    if any(row["before"]["extrapolated"] or row["after"]["extrapolated"] for row in rows):
        coming = max(abs(row[when]["to_come"]) for row in rows for when in ("before", "after"))
        lines.append(f"* told by its curve: still moving at the end of a run, with up to {coming:.1f} K to come")
    if modelled:
        lines.append("model off: model less measured; each place has its own uncertainty")
        lines.append("! further off than that, the probe's and the bench's together explain (95 %)")
    return lines


def _minus(value: float, digits: int = 1) -> str:
    return number(value, digits).replace("-", "−")


def _signed(row: Facts) -> str:
    return f"{'−' if row['change'] < 0 else '+'}{give_or_take(abs(row['change']), row['half_width'])}"


def _model_cells(model: Facts | None) -> list[str]:
    if model is None:
        return ["–", "–", "–"]
    marks = ["" if model[key] in (True, None) else " !" for key in ("change_agrees", "agrees_before", "agrees_after")]
    values = [f"{model['change']:+.1f}", f"{model['off_before']:+.1f}", f"{model['off_after']:+.1f}"]
    return [f"{value}{mark}".replace("-", "−") for value, mark in zip(values, marks, strict=True)]


def reading_lines(facts: Facts) -> list[str]:
    """Speeds, flows, watts and noise."""
    rows = [row for row in facts["rows"] if not row["is_rise"]]
    if not rows:
        return []
    table = [["reading", "before", "after", "change (95 %)", "", ""]]
    for row in rows:
        single = min(facts["counts"].values()) < 2
        change = f"{row['change']:+.2f}".replace("-", "−") if single else _signed(row)
        means = [_minus(row[when]["mean"], 1 if abs(row[when]["mean"]) >= 10 else 2) for when in ("before", "after")]
        verdict = "single runs" if single else VERDICTS[row["verdict"]][1]
        table.append([short(row["channel"]), *means, change, row["unit"], verdict])
    noise = facts["noise"]["after"]
    lines = columns(table, " rrr")
    if noise and noise["over_background_db"] is not None:
        lines.append("noise: what the background adds is taken out where that was logged (K1 of ISO 3744)")
        lines += ["within 6 dB of the background a level is an upper bound"] if noise["upper_bound"] else []
    return lines


def budget_lines(facts: Facts, width: int) -> list[str]:
    """What the interval of the widest row is made of."""
    rows = judged(facts)
    if not rows:
        return []
    row = max(rows, key=lambda one: one["half_width"])
    parts = ", ".join(f"{one['source']} {one['u']:.2g} K" for one in row["budget"] if one["u"] > 0.01 * row["u"])
    freedom = "many" if row["freedom"] is None else f"{row['freedom']:.1f}"
    kept = "a probe that stays in place has the same error twice, so its calibration cancels"
    return paragraphs(
        [
            f"± is a 95 % interval by Student's t. The widest, {short(row['channel'])}: standard uncertainty "
            f"{row['u']:.2g} K of {parts}; {freedom} degrees of freedom; {kept}"
        ],
        width,
    )


def warm_up_lines(facts: Facts) -> list[str]:
    """How soon all parts were warm, measured and modelled, by the definition in use and by published criteria."""
    told = facts["warm_up"]
    stands = [name for name in ("before", "model_before", "after", "model_after") if name in told]
    if not any(told[name]["slowest"] for name in stands):
        return []
    table = [["warm-up, slowest part", *(name.replace("model_", "model ") for name in stands)]]
    within = f"within {facts['settings']['settle_k']:g} K for good"
    table.append([within, *(_range(told[name]) for name in stands)])
    for criterion in told["before"]["criteria"]:
        cells = []
        for name in stands:
            met = told[name]["criteria"][criterion]
            coming = "" if met["time_s"] is None else f" ({met['still_to_come_k']:.1f} K to come)"
            cells.append(f"{minutes(met['time_s'])}{coming}")
        table.append([f"by {criterion}", *cells])
    return columns(table, " rrrr")


def _range(told: Facts) -> str:
    """A warm-up, and where its runs differ by more than a minute from which to which."""
    known = [time for time in told["runs_s"] if time is not None]
    wide = told["time_s"] is not None and max(known) - min(known) > 60
    return minutes(told["time_s"]) + (f" ({min(known) / 60:.0f} to {max(known) / 60:.0f})" if wide else "")


def run_lines(facts: Facts) -> list[str]:
    """One line a run."""
    table = [["run", "min", "room °C", "drift ± K", "supply W", "state", "warm after", "still moving"]]
    for run in facts["runs"]:
        table.append([
            f"{run['name']} ({run['stands']}, {run['option'] or 'base'})", number(run["span_s"] / 60, 0),
            number(run["room_degc"]), number(run["room_drift_k"], 2), number(run["watts"]), run["state"] or "–",
            minutes(run["warm_up"]["time_s"]), str(len(run["extrapolated"]) or "–"),
        ])  # fmt: skip
    return columns(table, " rrrr rr")


def stream_lines(facts: Facts) -> list[str]:
    """Heat by stream beside the supply, dew, touch: of the last run of each stand."""
    lines = []
    for when in ("before", "after"):
        run = [one for one in facts["runs"] if one["stands"] == when][-1]
        heat = [
            f"{one['stream']} {one['watts']:.1f} ± {2 * one['u_w']:.1f} W ({one['rise_k']:+.2f} K)"
            for one in run["heat"]
        ]
        if heat:
            supply = "" if run["watts"] is None else f" of {run['watts']:.1f} W from the supply"
            lines.append(f"heat carried {when}: {', '.join(heat)}{supply}")
        if run["dew"]:
            lines.append(
                f"dew {when}: coldest {run['dew']['coldest']}, {run['dew']['coldest_degc']:.1f} °C, "
                f"{run['dew']['margin_k']:.1f} K over the dew point"
            )
        lines += [
            f"touch {when}: {one['channel']} {one['degc_at_25']:.0f} °C in a room of 25 °C, "
            f"limit {one['limit_degc']:.0f} °C"
            for one in run["touch"]
        ]
    return lines

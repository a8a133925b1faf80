"""A fit as plain text: the answer, the unknowns, what was held out, the channels."""

from __future__ import annotations

from typing import Any

from thermsim.bench.fit.answer import shown
from thermsim.case.channels import is_temperature
from thermsim.report.text import closing, columns, minutes, opening, paragraphs
from thermsim.studies.sweep.answer import plain

Table = dict[str, Any]
MOST_ROWS = 14


def fit_text(facts: Table, width: int = 110) -> str:
    """The whole report, the answer first."""
    blocks = [
        opening(facts, width, "the model matched to the bench"),
        unknown_lines(facts),
        held_lines(facts["held_out"]),
        channel_lines(facts),
        run_lines(facts, width),
        closing(facts, width),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def unknown_lines(facts: Table) -> list[str]:
    """Value, standard error, what was believed and what the logs added."""
    rows = [["unknown", "the case", "matched", "± (1σ)", "95 % sure", "believed", "left of it", "in options"]]
    for one in facts["unknowns"]:
        relative = one["relative_error"]
        error = f"{one['standard_error']:.2g}" if relative is None else f"{100 * relative:.2g} %"
        sure = f"{shown(one, one['low_95'])} to {shown(one, one['high_95'])}"
        believed, left = "nothing", "–"
        if one["left_of_prior"] is not None:
            believed = f"{shown(one, one['prior_low_95'])} to {shown(one, one['prior_high_95'])}"
            left = f"{100 * one['left_of_prior']:.2g} %"
        mark = f" (at its {one['bound_hit']} bound)" if one["bound_hit"] else ""
        rows.append([
            plain(one["name"]) + mark, shown(one, one["before"]), shown(one, one["value"]), error, sure, believed, left,
            ", ".join(one["options"]),
        ])  # fmt: skip
    lines = ["what was matched; believed: 95 % before the fit, left of it: share of that width after it"]
    return [*lines, *columns(rows, " rrrrrr"), *degenerate_lines(facts)]


def degenerate_lines(facts: Table) -> list[str]:
    """Correlations of those that the logs do not tell apart."""
    return [
        f"not told apart: {', '.join(plain(name) for name in group['names'])}"
        + (f" (correlation {group['correlation']:+.3f})" if group["correlation"] is not None else "")
        for group in facts["degenerate"]
    ]


def held_lines(held: Table) -> list[str]:
    """Every series that was not shown to the fit."""
    if not held["series"]:
        return [f"nothing was held out: {'; '.join(held['why'])}"]
    shown_series = [one for one in held["series"] if is_temperature(one["channel"])]
    order = sorted(shown_series, key=lambda one: -abs(one["error"]) / one["u"])
    rows = [["not shown to the fit", "run", "measured °C", "error K", "± 95 % K", "before K", "rms K"]]
    for one in order[:MOST_ROWS]:
        mark = "" if one["inside"] else "  outside"
        rows.append([
            plain(one["channel"]), one["run"], f"{one['measured']:.2f}", f"{one['error']:+.2f}",
            f"{1.96 * one['u']:.2f}{mark}", f"{one['error_before']:+.2f}", f"{one['rms_after']:.2f}",
        ])  # fmt: skip
    more = len(order) - MOST_ROWS
    how = "at the end of each run, model less measured; of a probe seen in other runs less what it was off by there"
    why = [f"held out by rule: {'; '.join(held['why'])}"] if held["why"] else []
    rest = [f"… and {more} nearer to the model"] if more > 0 else []
    others = len(held["series"]) - len(order)
    rest += [f"and {others} of flows and speeds"] if others else []
    return [how, *columns(rows, "  rrrrr"), *rest, *why]


def channel_lines(facts: Table) -> list[str]:
    """What is left by channel, the worst first."""
    rows = [["channel", "mean before", "mean", "rms", "noise", "independent", "σ off"]]
    for one in facts["channels"][:MOST_ROWS]:
        rows.append([
            plain(one["channel"]), f"{one['bias_before']:+.2f}", f"{one['bias']:+.2f}", f"{one['rms']:.2f}",
            f"{one['noise']:.3f}", f"1 in {one['readings_per_independent_one']:.1f}", f"{one['z']:+.1f}",
        ])  # fmt: skip
    more = len(facts["channels"]) - MOST_ROWS
    squares = f"{facts['reduced_chi_square']:.2f} of the scatter expected (squares; 1: as the noise explains)"
    head = f"what is left, model less measured (K, flows in m³/s, speeds as shares); {squares}"
    repeats = f"{facts['readings']} averaged readings count as {facts['independent_readings']:.0f} independent ones"
    rest = [f"… and {more} nearer to the model"] if more > 0 else []
    return [head, *columns(rows, " rrrrrr"), *rest, f"{repeats}: neighbours repeat each other, and the model wanders"]


def run_lines(facts: Table, width: int = 110) -> list[str]:
    """The logs, and what it took."""
    rows = [["run", "option", "lasts", "readings", ""]]
    for run in facts["runs"]:
        held = "held out" if run["held"] else ""
        rows.append([run["run"], run["option"], minutes(run["span_s"]), str(run["readings"]), held])
    cost, options = facts["cost"], ", ".join(f"“{name}”" for name in facts["fitted_options"])
    return [
        *columns(rows, "  rr"),
        f"{cost['histories']} histories in {cost['processor_s']:.0f} s of processor time, "
        f"{cost['in_full']} of them in full; matched options: {options}",
        *paragraphs(
            [f"mended: {run['run']}: {'; '.join(run['mended'])}" for run in facts["runs"] if run["mended"]], width
        ),
    ]

"""The share chart: how much of the liquid benefit each cheap step achieves, part by part, and of the quiet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermsim.report.decide_text import trials_of
from thermsim.report.figures import save_all
from thermsim.report.style import ALARM, FAINT, INK, LINES, NOTE, new_figure, quiet_axes
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Table = dict[str, Any]
QUIET = "quiet, governor live"
MOST_SHOWN = 1.2  # of the liquid benefit; a longer bar is cut, its number tells
LEAST_SHOWN = -0.6
WHY = {"not resolvable": "not resolvable", "liquid brings nothing": "liquid no cooler", "held by": "held"}


def save_compare(facts: Table, folder: str | Path) -> list[Path]:
    """Draw the share chart of a comparison into a folder; nothing where there are no shares."""
    figure = share_figure(facts)
    return [] if figure is None else save_all([("shares", figure)], folder)


def share_figure(facts: Table) -> Figure | None:
    """A panel a cheap step, a bar a part; None where there are no shares."""
    told = [trial for trial in trials_of(facts) if trial["frozen"]]
    if not told:
        return None
    parts = list(dict.fromkeys(part for trial in told for part in trial["frozen"]["parts"]))
    figure = new_figure(2.2 + 2.3 * len(told), 1.7 + 0.24 * (len(parts) + 1))
    panels = figure.subplots(1, len(told), sharex=True, sharey=True, squeeze=False)[0]
    for axes, trial in zip(panels, told, strict=True):
        _panel(axes, trial, parts)
    quiet = QUIET if any(trial["governed"] for trial in told) else "quiet"
    panels[0].set_yticks(range(len(parts) + 1), [quiet, *map(plain, parts)])
    panels[0].set_ylim(len(parts) + 0.6, -0.6)
    frozen = ", fan speed frozen" if any(trial["governed"] for trial in told) else ""
    figure.suptitle(
        f"Share of what “{told[0]['against']}” would bring{frozen}", x=0.01, ha="left", fontsize=11,
        fontweight="bold", color=INK,
    )  # fmt: skip
    figure.supxlabel(
        "share, %; whiskers: uncertainty. Red part: gets hotter with the governor live. Shares do not add.",
        fontsize=8.5, color=NOTE,
    )  # fmt: skip
    return figure


def _panel(axes: Axes, trial: Table, parts: list[str]) -> None:
    quiet_axes(axes, "x")
    trap = " (trap)" if trial["trap"] else ""
    axes.set_title(f"{trial['option']}{trap}", loc="left", fontsize=9, color=ALARM if trap else INK)
    hotter = {one["part"] for one in trial["live"]["hotter"]}
    rows = [trial["live"]["noise"], *(trial["frozen"]["parts"].get(part) for part in parts)]
    for row, told in enumerate(rows):
        warm = row > 0 and parts[row - 1] in hotter
        _bar(axes, row, told, ALARM if warm else LINES[2] if row == 0 else LINES[0])
    axes.axvline(0, color=FAINT, linewidth=0.8)
    axes.axvline(100, color=FAINT, linewidth=0.8, linestyle=":")
    axes.set_xlim(100 * LEAST_SHOWN, 100 * MOST_SHOWN + 30)


def _bar(axes: Axes, row: int, told: Table | None, colour: str) -> None:
    """A share with its whisker and number, or in words why there is none."""
    if told is None or told["share"] is None:
        why = "–" if told is None else next(words for start, words in WHY.items() if told["why"].startswith(start))
        axes.text(3, row, why, va="center", fontsize=7, color=NOTE, style="italic")
        return
    share = min(max(told["share"], LEAST_SHOWN), MOST_SHOWN)
    axes.barh(row, 100 * share, height=0.62, color=colour)
    if share == told["share"]:
        axes.errorbar(100 * share, row, xerr=100 * told["share_u"], color=INK, linewidth=0.8, capsize=1.5)
    beyond = 100 * (max(share, 0.0) + (told["share_u"] if share == told["share"] else 0.0)) + 3
    axes.text(
        min(beyond, 100 * MOST_SHOWN + 3), row, f"{round(100 * told['share'])}", va="center", fontsize=7, color=INK
    )

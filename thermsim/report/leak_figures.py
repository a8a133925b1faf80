"""The figure of a leak test: the pressure at 20 °C while it was held, with the line through it and its band."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermsim.report.figures import FORMATS, save_all
from thermsim.report.style import FAINT, LINES, NOTE, heading, new_figure, of_study, quiet_axes, spread

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Facts = dict[str, Any]
HEIGHT = 2.9  # inches, of a test
GAP = 0.07  # of a panel's height, between names at the lines' ends


def save_leak(facts: Facts, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write the figure as `leak.png` and `leak.svg`; nothing where no test was logged."""
    logged = [test for test in facts["tests"] if test["logged"]]
    return save_all([("leak", leak_figure(facts, logged))], folder, formats) if logged else []


def leak_figure(facts: Facts, tests: Sequence[Facts]) -> Figure:
    """One panel a test, on one scale: what the gauge read, and what is left of it once temperature is taken out."""
    figure = new_figure(9.0, 0.4 + HEIGHT * len(tests))
    grid = figure.subplots(len(tests), 1, sharex=True, sharey=True, squeeze=False)[:, 0]
    for axes, test in zip(grid, tests, strict=True):
        _panel(axes, facts, test)
    grid[-1].set_xlabel("minutes held", fontsize=9)
    figure.supxlabel(of_study(facts), fontsize=8.5, color=NOTE, x=0.01, ha="left")
    return figure


def _panel(axes: Axes, facts: Facts, test: Facts) -> None:
    curve = test["curve"]
    minutes = np.array(curve["time_s"]) / 60
    start = np.array(curve["line_pa"])[0]
    read, counted, line = (np.array(curve[key]) for key in ("read_pa", "counted_pa", "line_pa"))
    axes.plot(minutes, read - read[0], color=FAINT, linewidth=1.0)
    axes.plot(minutes, counted - start, ".", color=LINES[0], markersize=2.5)
    band = np.array(curve["band_pa"])
    axes.fill_between(minutes, line - band - start, line + band - start, color=LINES[0], alpha=0.18, linewidth=0)
    axes.plot(minutes, line - start, color=LINES[0], linewidth=1.8)
    ends = [((read - read[0])[-1], "as read", NOTE), ((line - start)[-1], "at 20 °C", LINES[0])]
    if facts["limit"] is not None:
        fall = facts["limit"]["pa_m3_per_s"] / facts["volume_m3"] * (minutes - minutes[0]) * 60
        allowed = fall if facts["inwards"] else -fall
        axes.plot(minutes, allowed, color=LINES[1], linestyle=(0, (5, 1.6)), linewidth=1.4)
        ends.append((allowed[-1], "limit", LINES[1]))
    _label(axes, minutes[-1], ends)
    rate = f"{test['sccm']:.3f} ± {2 * test['u_sccm']:.3f} sccm".replace("-", "−")
    heading(axes, f"{test['name'].capitalize()}: {rate}")
    axes.set_ylabel("change of pressure, Pa", fontsize=9)
    quiet_axes(axes)


def _label(axes: Axes, x: float, ends: Sequence[tuple[float, str, str]]) -> None:
    """Names at the lines' right ends, apart where the lines end together."""
    low, high = axes.get_ylim()
    for (_, text, colour), y in zip(ends, spread([end[0] for end in ends], GAP * (high - low), low, high), strict=True):
        axes.annotate(
            text, (x, y), (5, 0), textcoords="offset points", fontsize=8.5, color=colour, va="center",
            annotation_clip=False,
        )  # fmt: skip

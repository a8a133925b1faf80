"""How hard the machinery works over time: speeds, flows, noise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.report.curves import MINUTE, EndLabel, label_ends, mark_mishaps
from thermsim.report.style import ALARM, FAINT, heading, line_style, new_figure, quiet_axes, whose
from thermsim.store.result import Result, Series
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def control_figure(result: Result) -> Figure:
    """Speeds of fans and pumps, air and coolant flow, and noise over time, one panel each.

    What stands still or is not governed shows as a level line.
    """
    panels = control_panels(result)
    figure = new_figure(9.5, 1.0 + 1.75 * max(len(panels), 1))
    grid = figure.subplots(max(len(panels), 1), 1, sharex=True, squeeze=False)[:, 0]
    for axes, (title, curves) in zip(grid, panels.items(), strict=False):
        quiet_axes(axes)
        labels = []
        for k, (name, series) in enumerate(curves.items()):
            style = line_style(k)
            axes.plot(series.time / MINUTE, series.values, linewidth=1.5, label=name, **style)
            last = float(series.values[-1])
            labels.append(EndLabel(f"{plain(name)} {last:.3g}", last, style["color"]))
        axes.set_ylabel(title, fontsize=9)
        top = max(float(series.values.max()) for series in curves.values())
        axes.set_ylim(0, 1.15 * top if top > 0 else 1.0)
        if title.startswith("noise"):
            _noise_marks(axes, result)
        label_ends(axes, labels, height=75.0)
        mark_mishaps(axes, result)
    times = _times(result)
    grid[-1].set_xlim(0, times[-1] / MINUTE if times.size else 1.0)
    grid[-1].set_xlabel("minutes since switch-on")
    heading(grid[0], "What the fans and pumps do", whose(result))
    return figure


def control_panels(result: Result) -> dict[str, dict[str, Series]]:
    """Curves of speed, flows and noise by the title of their panel; only what the result has."""
    panels = {
        "speed, %": speeds(result),
        "air, m³/h": _flows(result, "air"),
        "coolant, L/min": _flows(result, "coolant"),
        "noise, dB(A)": _noise(result),
    }
    return {title: curves for title, curves in panels.items() if curves}


def speeds(result: Result) -> dict[str, Series]:
    """Speed of every fan and pump, % of rated: as its governor set it, else as stated, 0 in a mishap."""
    spec, times = result.case.spec, _times(result)
    governed = {driven: name for name, governor in spec.governor.items() for driven in governor.drives}
    stated = {f"fan.{name}": fan.speed for name, fan in spec.fan.items()}
    stated |= {f"pump.{name}": pump.speed for name, pump in spec.pump.items()}
    found = {}
    for address, speed in stated.items():
        label = address.replace(".", " ")
        curve = result.curves.get("governor", {}).get(governed.get(address, ""))
        if curve is not None:
            found[f"{label}, governed"] = curve
            continue
        values = np.full(times.shape, 100 * speed)
        for mishap in (spec.mishap[name] for name in result.case.mishaps):
            if address in mishap.stops:
                values[(times >= mishap.at) & (times < (mishap.ends or np.inf))] = 0.0
        found[label] = Series(times, values, "%", label)
    return found if times.size else {}


def _flows(result: Result, group: str) -> dict[str, Series]:
    curves = result.curves.get(group, {})
    return {name.removesuffix(" flow"): series for name, series in curves.items() if name.endswith(" flow")}


def _noise(result: Result) -> dict[str, Series]:
    curves = result.curves.get("noise", {})
    shown = {"fans and pumps": "sources"}
    if result.case.spec.room.noise_floor is not None:
        shown["with the room"] = "with room"
    return {label: curves[name] for label, name in shown.items() if name in curves}


def _noise_marks(axes: Axes, result: Result) -> None:
    """The room's floor, and the must-have on noise."""
    floor = result.case.spec.room.noise_floor
    if floor is not None:
        axes.axhline(floor, color=FAINT, linewidth=1, linestyle="--", label="_floor")
        _note(axes, floor, f"room {floor:g}", FAINT, below=True)
    about_noise = {name for name, must in result.case.spec.must_have.items() if must.of == "noise"}
    for must in result.summary.get("must_haves", []):
        if must["name"] in about_noise and must["at_most"] is not None:
            most = must["at_most"]
            axes.set_ylim(0, max(axes.get_ylim()[1], 1.15 * most))
            axes.axhline(most, color=ALARM, linewidth=1, linestyle=(0, (4, 3)), label="_must")
            _note(axes, most, f"must-have: at most {most:g}", ALARM)


def _note(axes: Axes, height: float, text: str, colour: str, below: bool = False) -> None:
    axes.annotate(
        text, (1, height), (-4, -2 if below else 2), xycoords=("axes fraction", "data"), ha="right",
        textcoords="offset points", va="top" if below else "bottom", fontsize=8, color=colour,
    )  # fmt: skip


def _times(result: Result) -> Floats:
    for group in ("noise", "parts", "air"):
        for series in result.curves.get(group, {}).values():
            return series.time
    return np.zeros(0)

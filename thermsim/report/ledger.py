"""Where the heat goes: watts by each way out, and what is being stored."""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermsim.case.schema import Spec
from thermsim.report.style import FAINT, INK, heading, new_figure, quiet_axes, whose
from thermsim.store.result import Result
from thermsim.studies.words import plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SMALL = 0.01  # ways that carry less than this share of the heat are drawn together
STORED, OTHER = "still warming things up", "all other ways"


def ledger_figure(result: Result) -> Figure:
    """Bars of the watts that leave by each way at the end of the run or are stored; their sum is the supply.

    Raises KeyError for a result without a ledger.
    """
    supplied, ways = heat_ways(result)
    figure = new_figure(9.0, 1.5 + 0.36 * len(ways))
    axes = figure.subplots()
    quiet_axes(axes)
    axes.grid(False)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0, labelsize=9.5)
    names = list(ways)
    colours = [FAINT if name == STORED else "#d55e00" if ways[name] >= 0 else "#0072b2" for name in names]
    bars = axes.barh(names, [ways[name] for name in names], color=colours, height=0.7)
    texts = [f"{watts:.2f} W" + (f"   {watts / supplied:.0%}" if supplied else "") for watts in ways.values()]
    axes.bar_label(bars, texts, padding=4, fontsize=9, color=INK)
    axes.invert_yaxis()
    axes.margins(x=0.22)
    axes.axvline(0, color=INK, linewidth=0.8)
    total = sum(ways.values())
    axes.set_xlabel(f"watts; together {total:.2f} W of {supplied:.2f} W supplied", fontsize=10)
    heading(axes, "Where the heat goes at the end of the run", whose(result))
    return figure


def heat_ways(result: Result) -> tuple[float, dict[str, float]]:
    """Watts supplied at the last frame, and watts of each way by plain name.

    Largest first, then the small ones together, then what is stored. What comes in by a way is negative.
    """
    last = {name: float(series.values[-1]) for name, series in result.curves["ledger"].items()}
    supplied = last.pop("supplied")
    named: dict[str, float] = {}
    for name, watts in last.items():
        way = plain_way(name, result.case.spec)
        named[way] = named.get(way, 0.0) + watts
    scale = max(abs(supplied), *(abs(watts) for watts in named.values()), 1e-9)
    big = {way: watts for way, watts in named.items() if abs(watts) >= SMALL * scale}
    ways = dict(sorted(big.items(), key=lambda item: -item[1]))
    if len(big) < len(named):
        ways[OTHER] = sum(named.values()) - sum(big.values())
    ways[STORED] = supplied - sum(last.values())
    return supplied, ways


def plain_way(name: str, spec: Spec) -> str:
    """A way out in words: "film.box_lid_outside" becomes "lid to the room"."""
    address = name.removesuffix(" radiation")
    kind, _, rest = address.partition(".")
    if kind == "airway":
        return f"air through airway {plain(rest)}"
    if kind == "film" and rest in spec.film:
        film = spec.film[rest]
        faces = {other.face for other in spec.film.values() if other.on == film.on and other.to == film.to}
        where = _place(film.on) + (f" {film.face}" if len(faces) > 1 else "")
        return f"{where} to {_air(film.to, film.air)}"
    if kind == "edge" and rest in spec.edge:
        edge = spec.edge[rest]
        rim = f"{edge.side} edge of {_place(edge.on)}"
        held = edge.temperature is not None
        return f"{rim}, held at {edge.temperature:g} °C" if held else f"{rim} to {_air('room', edge.air)}"
    if kind == "radiation" and rest in spec.radiation:
        return f"radiation of {' and '.join(_place(end) for end in spec.radiation[rest].between)}"
    for suffix, words in ((" still", "to the room's still air"), (" loss", "to the room")):
        if rest.endswith(suffix):
            return f"{kind} {plain(rest.removesuffix(suffix))} {words}"
    return plain(address.replace(".", " "))


def _place(address: str) -> str:
    kind, name = address.split(".", 1)
    if kind == "wall":
        return f"{plain(name)} side"
    return plain(name) if kind in ("sheet", "part") else f"{kind} {plain(name)}"


def _air(to: str, stated: float | None) -> str:
    if stated is not None:
        return f"air at {stated:g} °C"
    return "the room" if to == "room" else f"air of airway {plain(to.removeprefix('airway.'))}"

"""What all figures share: colours, plain words for names, quiet axes, figures without a window."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Literal

from thermsim.store.result import Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import ListedColormap
    from matplotlib.figure import Figure

COOLANT = "#58d0ff"
INK, NOTE, FAINT, ALARM = "#1d2730", "#4c5861", "#8a949c", "#c0341d"
# Okabe and Ito's palette for colour-blind readers without its yellow, lost on white paper, and three darker
LINES = (
    "#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00", "#1d2730", "#882255", "#6e7000",
    "#6a51a3",
)  # fmt: skip
DASHES: tuple[Any, ...] = ("-", (0, (5, 1.6)), (0, (1.4, 1.2)), (0, (6, 1.4, 1.4, 1.4)))


def heat_map() -> ListedColormap:
    """Colours of temperature: even steps of lightness, brighter is hotter.

    Told apart by colour-blind eyes and in grey print; without the black end, where a cold sheet looks a hole.
    """
    import numpy as np
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    return ListedColormap(colormaps["inferno"](np.arange(26, 256)), name="heat")


def kind_of(results: Iterable[Result]) -> str:
    """What results set side by side are: options, or mishaps when each of them has one."""
    return "mishaps" if all(result.case.mishaps for result in results) else "options"


def whose(result: Result) -> str:
    """Which case and option a figure is of."""
    return f"{result.case.title}; {result.option or 'base case'}"


Layout = Literal["constrained", "compressed"]


def new_figure(width: float, height: float, layout: Layout = "constrained") -> Figure:
    """An empty figure (inches) that belongs to no window and keeps its labels from overlapping."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout=layout, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def quiet_axes(axes: Axes, along: Literal["x", "y"] = "y") -> None:
    """No box on the top and right, ticks in grey; grid lines that help to read off one of the axes."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["left", "bottom"]].set_color(FAINT)
    axes.tick_params(colors=INK, labelsize=8, color=FAINT)
    axes.grid(True, axis=along, color="#e6e9eb", linewidth=0.7)
    axes.set_axisbelow(True)


def of_study(facts: Mapping[str, Any], option: str | None = None) -> str:
    """Whose figure it is, for a heading's second line: the case, an option, and whether its data are invented."""
    about = f", {option}" if option else ""
    return f"{facts['title']}{about}{'; invented data' if facts['invented'] else ''}"


def heading(axes: Axes, text: str, note: str = "") -> None:
    """A title flush left, with a quieter second line."""
    axes.set_title(text, loc="left", fontsize=11, fontweight="bold", color=INK, pad=20 if note else 8)
    if note:
        second = axes.annotate(
            note, (0, 1), (0, 7), xycoords="axes fraction", textcoords="offset points", fontsize=8.5,
            color=NOTE, annotation_clip=False,
        )  # fmt: skip
        second.set_in_layout(False)


def reserve_right(figure: Figure, inches: float) -> None:
    """Keep a strip at the right free of axes, for labels; the widest wish counts."""
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    engine = figure.get_layout_engine()
    assert isinstance(engine, ConstrainedLayoutEngine)
    width = min(engine.get()["rect"][2], 1 - inches / figure.get_figwidth())
    engine.set(rect=(0, 0, width, 1))


def line_style(index: int) -> dict[str, Any]:
    """Colour and dash of the n-th line; the pair repeats after 40."""
    return {
        "color": LINES[index % len(LINES)],
        "linestyle": DASHES[index // len(LINES) % len(DASHES)],
    }


def outlined(colour: str = "black", width: float = 2.0) -> list[Any]:
    """A halo that keeps text and lines readable over any colour."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width, foreground=colour)]


def spread(wanted: Iterable[float], gap: float, low: float, high: float) -> list[float]:
    """Positions near the wanted ones, at least `gap` apart and within low..high, in the order given.

    Neighbours that collide are moved together, so that the sum of squares of the shifts stays small; where
    there is no room for all, they are evenly spaced over the range.
    """
    wanted = list(wanted)
    if not wanted:
        return []
    gap = min(gap, (high - low) / max(len(wanted) - 1, 1))
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    clusters: list[tuple[float, int]] = []  # mean of the wanted places less their offsets, number of members
    for rank, k in enumerate(order):
        mean, count = wanted[k] - rank * gap, 1
        while clusters and clusters[-1][0] > mean:
            other, members = clusters.pop()
            mean, count = (mean * count + other * members) / (count + members), count + members
        clusters.append((mean, count))
    top = high - (len(wanted) - 1) * gap
    placed = [min(max(mean, low), top) for mean, count in clusters for _ in range(count)]
    found = [0.0] * len(wanted)
    for rank, k in enumerate(order):
        found[k] = placed[rank] + rank * gap
    return found

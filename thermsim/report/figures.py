"""Writing figures to files, the same bytes for the same result."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.case.names import slug
from thermsim.report.control import control_figure
from thermsim.report.curves import compare_curves, drift_figure, family, warm_up_figure
from thermsim.report.ledger import ledger_figure
from thermsim.report.maps import compare_maps, hotspot_map, map_page
from thermsim.store.result import Result
from thermsim.store.whole import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DPI = 130
FORMATS = ("png", "svg")


def save_figures(result: Result, folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """All figures of one result: a map per sheet, all maps on one scale, curves, control, drift, ledger."""
    return save_all(_figures(result), folder, formats)


def save_comparison(results: Mapping[str, Result], folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Figures that set results side by side: each sheet, and the hottest of each family of like parts.

    Runs with mishaps are drawn apart from those without.
    """
    return save_all(_comparisons(results), folder, formats)


def image(figure: Figure, kind: str = "png", dpi: int = DPI) -> bytes:
    """A figure as a file's content, without dates or random names in it."""
    from matplotlib import rc_context
    from matplotlib.text import Annotation, Text

    metadata = {"png": {"Software": None}, "svg": {"Date": None, "Creator": None}}[kind]
    for text in figure.findobj(Text):
        text.set_parse_math(False)  # a dollar sign in a title is one
    target = BytesIO()
    with rc_context({"svg.hashsalt": "thermsim"}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing")  # of a script the font has not: boxes stand for it
        figure.draw_without_rendering()
        figure.set_layout_engine("none")
        for note in figure.findobj(Annotation):
            note.set_in_layout(True)  # the layout is done; now none may be cut off at the rim
        figure.savefig(target, format=kind, dpi=dpi, metadata=metadata, bbox_inches="tight", pad_inches=0.12)
    return target.getvalue()


def apart(results: Mapping[str, Result]) -> dict[str, dict[str, Result]]:
    """Results under "options" and "mishaps": a runaway would leave nothing to see of the rest on one scale."""
    kinds: dict[str, dict[str, Result]] = {}
    for name, result in results.items():
        kinds.setdefault("mishaps" if result.case.mishaps else "options", {})[name] = result
    return kinds


def sheets_worth_comparing(results: Mapping[str, Result]) -> list[str]:
    """Sheets that carry parts, and plates, in the order they appear; all sheets if there is none of these."""
    addresses = dict.fromkeys(address for result in results.values() for address in result.fields)
    carrying = {part.on for result in results.values() for part in result.case.spec.part.values()}
    chosen = [address for address in addresses if address in carrying or address.startswith("plate.")]
    return chosen or list(addresses)


def hottest_of_families(results: Mapping[str, Result]) -> list[str]:
    """Of like parts (adc1, adc2 …) the one that ends hottest under any option."""
    ends: dict[str, dict[str, float]] = {}
    for result in results.values():
        curves = result.curves.get("parts", {})
        for name in result.case.spec.part:
            if name in curves:
                members = ends.setdefault(family(name), {})
                members[name] = max(float(curves[name].values[-1]), members.get(name, float("-inf")))
    return [max(members, key=lambda name: members[name]) for members in ends.values()]


def _figures(result: Result) -> Iterator[tuple[str, Figure]]:
    for address in result.fields:
        yield f"map {address}", hotspot_map(result, address)
    if len(result.fields) > 1:
        yield "map all", map_page(result)
    if "parts" in result.curves:
        yield "warm-up", warm_up_figure(result)
    yield "control", control_figure(result)
    drift = drift_figure(result)
    if drift is not None:
        yield "drift", drift
    if "ledger" in result.curves:
        yield "heat", ledger_figure(result)


def _comparisons(results: Mapping[str, Result]) -> Iterator[tuple[str, Figure]]:
    for kind, group in apart(results).items():
        for address in sheets_worth_comparing(group):
            yield f"{kind} map {address}", compare_maps(group, address)
        for part in hottest_of_families(group):
            yield f"{kind} {part}", compare_curves(group, part)


def save_all(figures: Iterable[tuple[str, Figure]], folder: str | Path, formats: Sequence[str] = FORMATS) -> list[Path]:
    """Write named figures to a folder, each in every format; returns their paths."""
    return [
        write_whole(Path(folder) / f"{slug(name)}.{kind}", image(figure, kind))
        for name, figure in figures
        for kind in formats
    ]

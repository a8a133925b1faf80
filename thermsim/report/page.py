"""One self-contained page for a comparison of options."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermsim.report.control import control_figure
from thermsim.report.curves import compare_curves, drift_figure, warm_up_figure
from thermsim.report.figures import apart, image, sheets_worth_comparing
from thermsim.report.ledger import OTHER, STORED, heat_ways
from thermsim.report.maps import compare_maps
from thermsim.report.rows import Row, answer, option_row
from thermsim.report.style import plain
from thermsim.report.text import minutes, number
from thermsim.store.result import Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PAGE_DPI = 100
TIGHTEST = 2  # parts whose curves are shown under all options
DETAILED = 20  # options with figures of their own; keeps the page below 6 MB


def write_page(path: str | Path, title: str, results: Mapping[str, Result], rows: Sequence[Row] | None = None) -> Path:
    """Write the comparison of whole results (by option name) as one HTML file; returns its path.

    `rows`: those of `option_row`, made here when not given.
    """
    from jinja2 import Environment, StrictUndefined

    rows = [option_row(result, name) for name, result in results.items()] if rows is None else rows
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters.update(number=number, minutes=minutes, plain=plain)
    template = environment.from_string(files("thermsim.report").joinpath("page.html").read_text("utf-8"))
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(template.render(page_facts(title, results, rows)), encoding="utf-8")
    return path


def page_facts(title: str, results: Mapping[str, Result], rows: Sequence[Row]) -> dict[str, Any]:
    """What the page shows."""
    summaries = {name: result.summary for name, result in results.items()}
    first = next(iter(results.values()))
    return {
        "title": title,
        "note": first.case.spec.case.note,
        "version": first.summary["thermsim"],
        "room": first.case.spec.room,
        "invented": any(summary["invented"] for summary in summaries.values()),
        "answer": answer(rows),
        "rows": rows,
        "parts": list(dict.fromkeys(part for row in rows for part in row["parts"])),
        "limits": _limits(rows),
        "heat": _heat(results),
        "maps": [
            _figure(compare_maps(group, address), f"Temperature maps of {plain(address)}, {kind}")
            for kind, group in apart(results).items()
            for address in sheets_worth_comparing(group)
        ],
        "curves": [
            _figure(compare_curves(group, part), f"Temperature of {plain(part)} over time, {kind}")
            for kind, group in apart(results).items()
            for part in tightest_parts([row for row in rows if row["option"] in group])
        ],
        "details": [_details(name, result) for name, result in list(results.items())[:DETAILED]],
        "left_out": list(results)[DETAILED:],
        "warnings": _with_options({name: summary["warnings"] for name, summary in summaries.items()}),
        "correlations": _with_options({
            name: [(c["where"], c["name"], c["regime"]) for c in summary["correlations"]]
            for name, summary in summaries.items()
        }),
        "cautions": list(dict.fromkeys(text for told in summaries.values() for text in told["cautions"])),
        "closure": max(abs(summary["energy"]["residual_fraction"]) for summary in summaries.values()),
        "unknowns": max(summary["solution"]["unknowns"] for summary in summaries.values()),
    }  # fmt: skip


def tightest_parts(rows: Sequence[Row]) -> list[str]:
    """Parts that are the tightest under some option, the least margin first; a few."""
    least: dict[str, float] = {}
    for row in rows:
        if row["worst_part"] is not None:
            least[row["worst_part"]] = min(row["worst_margin_k"], least.get(row["worst_part"], float("inf")))
    return sorted(least, key=lambda part: least[part])[:TIGHTEST]


def _limits(rows: Sequence[Row]) -> dict[str, float | None]:
    """Limit of each part; None where it has none, or not the same under all options."""
    limits: dict[str, set[float | None]] = {}
    for row in rows:
        for part, told in row["parts"].items():
            limits.setdefault(part, set()).add(told["limit_degc"])
    return {part: values.pop() if len(values) == 1 else None for part, values in limits.items()}


def _heat(results: Mapping[str, Result]) -> dict[str, Any]:
    """Watts by way and option; ways in order of what they carry, the remainder and the stored last."""
    told = {name: heat_ways(result) for name, result in results.items()}
    most: dict[str, float] = {}
    for _, ways in told.values():
        for way, watts in ways.items():
            most[way] = max(most.get(way, 0.0), abs(watts))
    order = sorted(most, key=lambda way: (way == STORED, way == OTHER, -most[way]))
    return {"ways": order, "by_option": told}


def _details(name: str, result: Result) -> dict[str, Any]:
    """Figures and warm-up criteria of one option."""
    shown: list[tuple[str, Figure | None]] = [
        ("Part temperatures over time", warm_up_figure(result)),
        ("Speeds, flows and noise over time", control_figure(result)),
        ("Drift of readings over time", drift_figure(result)),
    ]
    return {
        "name": name,
        "stop_reason": result.summary["stop_reason"],
        "criteria": result.summary["warm_up"].get("criteria", {}),
        "figures": [_figure(figure, f"{what}, {name}") for what, figure in shown if figure is not None],
    }


def _figure(figure: Figure, alternative: str) -> dict[str, str]:
    return {"data": b64encode(image(figure, "png", PAGE_DPI)).decode("ascii"), "alt": alternative}


def _with_options(told: Mapping[str, Sequence[Any]]) -> list[tuple[Any, str]]:
    """Each thing once, with the options it concerns ("" for all)."""
    concerned: dict[Any, list[str]] = {}
    for name, things in told.items():
        for thing in things:
            concerned.setdefault(thing, []).append(name)
    every = len(told)
    return [(thing, "" if len(names) == every else "; ".join(names)) for thing, names in concerned.items()]

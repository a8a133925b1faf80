"""What a search tells of the board, of every position, and of what limits them; lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from thermsim.case.rectangles import extent, outline
from thermsim.studies.place.rules import Verdict
from thermsim.studies.place.scan import limits_of, ranked
from thermsim.studies.place.search import Found
from thermsim.studies.place.setup import Search

Facts = dict[str, Any]


def millimetres(*values: float) -> list[float]:
    """Metres as millimetres, to a micrometre."""
    return [round(1e3 * value, 3) for value in values]


def board_told(search: Search) -> Facts:
    """The sheet, the parts on it, keep-outs and screws, and the inside of the box."""
    spec, sheet = search.spec, outline(search.spec.sheet[search.on.removeprefix("sheet.")])
    parts = []
    for name, part in spec.part.items():
        area = extent(spec, f"part.{name}")
        if part.on == search.on and area is not None:
            parts.append({"name": name, **_area(area), "limit_degc": part.limit, "height_mm": _mm(part.height)})
    return {
        "sheet": {"name": search.on, **_area(sheet)},
        "box": _area(search.first.rules.box.inside),
        "exits": [leave if isinstance(leave, str) else millimetres(*leave) for leave in search.first.rules.box.exits],
        "parts": parts,
        "keep_outs": [
            {"name": name, "corner_mm": millimetres(*one.corner), "size_mm": millimetres(*one.size),
             "height_mm": _mm(one.height)}
            for name, one in spec.keep_out.items()
        ],
        "screws": [
            {"name": name, "at_mm": millimetres(*one.at), "hole_mm": _mm(one.hole), "ring_mm": _mm(one.ring)}
            for name, one in spec.screw.items()
        ],
    }  # fmt: skip


def _area(area: tuple[float, ...]) -> Facts:
    left, front, right, back = area
    return {"corner_mm": millimetres(left, front), "size_mm": millimetres(right - left, back - front)}


def _mm(value: float | None) -> float | None:
    return None if value is None else millimetres(value)[0]


def spot_told(verdict: Verdict) -> Facts:
    """Where a plate lies, what it touches, how high, and its hoses."""
    spot = verdict.spot
    corner, size = millimetres(*spot.corner), millimetres(*spot.outline_size)
    return {
        "x_mm": corner[0], "y_mm": corner[1], "rotation_deg": spot.turn, "outline_mm": size,
        "covered": [contact.part for contact in verdict.contacts], "rests_on": verdict.rests_on,
        "underside_mm": _mm(verdict.underside),
        "gaps_mm": {contact.part: _mm(contact.gap) for contact in verdict.contacts},
        "hoses_mm": [_mm(route.length) for route in verdict.hoses], "bends": [route.bends for route in verdict.hoses],
        "hose_zones_mm": [_area(route.zone) for route in verdict.hoses],
    }  # fmt: skip


def positions_told(search: Search, found: Found) -> list[Facts]:
    """Every position, in the order of the lattice: what forbids it, or what it gives."""
    names = list(search.spec.part)
    limits = limits_of(search.spec)
    numbers = {int(position): k for k, position in enumerate(found.allowed)}
    told = []
    for position, verdict in enumerate(found.verdicts):
        x, y = millimetres(*verdict.spot.corner)
        row: Facts = {
            "x_mm": x, "y_mm": y, "rotation_deg": verdict.spot.turn, "allowed": verdict.allowed,
            "why": list(verdict.why), "worst_margin_k": None, "worst_part": None, "covered": [], "parts_degc": {},
            "flow_l_per_min": None, "drop_kpa": None, "plate_mean_degc": None,
        }  # fmt: skip
        k = numbers.get(position)
        if k is not None and found.scan is not None:
            parts = found.scan.parts[k]
            row |= {
                "worst_margin_k": _rounded(found.margins[k]), "worst_part": names[int((limits - parts).argmin())],
                "covered": [contact.part for contact in verdict.contacts],
                "parts_degc": {name: _rounded(degc, 2) for name, degc in zip(names, parts, strict=True)},
                "flow_l_per_min": _rounded(6e4 * found.flows[k]), "drop_kpa": _rounded(found.drops[k] / 1e3),
                "plate_mean_degc": _rounded(found.scan.plate_mean[k], 2),
            }  # fmt: skip
        told.append(row)
    return told


def limits_told(search: Search, found: Found) -> dict[str, int]:
    """How many allowed positions each part is the worst of, most first."""
    if found.scan is None:
        return {}
    worst = (limits_of(search.spec) - found.scan.parts).argmin(axis=1)
    counts = np.bincount(worst, minlength=len(search.spec.part))
    return most_first({name: int(count) for name, count in zip(search.spec.part, counts, strict=True) if count})


def most_first(counts: dict[str, int]) -> dict[str, int]:
    """Sorted by count."""
    items: Iterable[tuple[str, int]] = sorted(counts.items(), key=lambda item: -item[1])
    return dict(items)


def _rounded(value: Any, digits: int = 3) -> float:
    return round(float(value), digits)


def exact_told(exact: Facts) -> Facts:
    """What is told of a position that was solved exactly."""
    keys = (
        "flow_l_per_min",
        "drop_kpa",
        "loop_drop_kpa",
        "plate_mean_degc",
        "reynolds",
        "regime",
        "parts_degc",
        "sheet_margin_k",
    )
    told = {"exact_worst_margin_k": exact["worst_margin_k"], "exact_worst_part": exact["worst_part"]}
    told |= {key: exact[key] for key in keys} | {"plates": exact["plates"], "exact_s": exact["seconds"]}
    return told


def timing_told(screened: float, exact: Sequence[float], count: int) -> Facts:
    """What the search took, and what solving each allowed position anew would have, in the same run."""
    each = float(np.mean(exact)) if exact else None
    spent = screened + sum(exact)
    return {
        "screening_s": screened,
        "exact_each_s": each,
        "speed_up": None if each is None else each * count / spent,
    }


def in_order(leaders: Sequence[Facts]) -> list[Facts]:
    """Best first, by what was solved exactly."""
    margins, own = (
        np.array([np.inf if leader[key] is None else leader[key] for leader in leaders], dtype=float)
        for key in ("exact_worst_margin_k", "sheet_margin_k")
    )
    return [leaders[int(k)] for k in ranked(margins, own)]

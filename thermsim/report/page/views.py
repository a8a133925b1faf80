"""Data behind the page's maps and curves of each option."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from thermsim.case.schema import Spec
from thermsim.report.figures import apart, sheets_worth_comparing
from thermsim.report.maps import sheet_name
from thermsim.report.page.curves import control_charts, part_charts, warm_up_chart
from thermsim.report.page.fields import packed_fields
from thermsim.report.plan import Rect, outlines, plates_over
from thermsim.store.result import Result
from thermsim.studies.words import plain

Facts = dict[str, Any]
FIELDS_BUDGET = 3_500_000  # bytes of packed fields; the page has to stay below 6 MB with all the rest


def views_data(results: Mapping[str, Result], shown: Sequence[str], notes: Mapping[str, str]) -> Facts:
    """Fields, outlines, charts and a note by option; `shown` at first, the rest at the reader's choice."""
    worth = sheets_worth_comparing(results)
    addresses = list(dict.fromkeys([*worth, *(address for result in results.values() for address in result.fields)]))
    fields = packed_fields(results, addresses, FIELDS_BUDGET)
    kinds = {name: kind for kind, group in apart(results).items() for name in group}
    return {
        "shown": list(shown),
        "sheets": {address: sheet_name(address) for address in addresses},
        "scales": fields["scales"],
        "step_k": fields["step_k"],
        "merged": fields["merged"],
        "options": {
            name: {
                "kind": kinds[name],
                "note": notes[name],
                "sheets": {
                    address: told | overlay(result.case.spec, address)
                    for address, told in fields["fields"][name].items()
                },
                "warm_up": warm_up_chart(result),
                "control": control_charts(result),
            }
            for name, result in results.items()
        },
        "part_charts": part_charts(results),
    }


def overlay(spec: Spec, address: str) -> Facts:
    """What is drawn on a sheet: parts, plates over it and channels, lengths in mm."""
    plates = plates_over(spec, address)
    if address.startswith("plate."):
        plates = [address.removeprefix("plate.")]
    return {
        "parts": [
            {"name": plain(outline.part), "key": outline.part, "rect": in_mm(outline.rect), "joined": outline.joined}
            for outline in outlines(spec, address)
        ],
        "plates": [
            {
                "name": plain(name),
                "rect": in_mm(_rect(spec, name)),
                "path": [in_mm(point) for point in spec.plate[name].channel.path],
                "over": f"plate.{name}" != address,
            }
            for name in plates
        ],
    }


def _rect(spec: Spec, plate: str) -> Rect:
    (x, y), (width, depth) = spec.plate[plate].corner, spec.plate[plate].size
    return x, y, x + width, y + depth


def in_mm(lengths: Sequence[float]) -> list[float]:
    """Lengths in mm, to the micrometre."""
    return [round(1e3 * value, 3) for value in lengths]

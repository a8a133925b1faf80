"""Everything a run should make its reader wary of, each thing once and by name."""

from __future__ import annotations

from typing import Any

from thermsim.studies.finished import Finished

BOILING_SOON = 95.0  # °C


def warnings_of(done: Finished, summary: dict[str, Any]) -> list[str]:
    """Warnings of the grid, the correlations, the case, and of what the summary shows."""
    found = [*done.model.site.grid.shifts, *done.notes]
    found += [str(problem) for problem in done.model.case.warnings]
    for name, loop in summary["coolant"].items():
        found += [
            f"{address}: Reynolds number {element['reynolds']:.0f}, {element['regime']}: film and drop are uncertain"
            for address, element in loop["elements"].items()
            if element["regime"] in ("near transition", "transitional")
        ]
        if max(loop["hottest_degc"], loop["hottest_at_end_degc"] or 0.0) > BOILING_SOON:
            found.append(f"loop {name}: if left so, the coolant would pass {BOILING_SOON:.0f} °C and boil")
    if done.end is None:
        found.append("as it stands at the end of the run some heat has no way out: temperatures rise without end")
    if not done.calm.settles:
        found.append("the governors never rest: steady temperatures are those at the last speeds tried")
    late = summary["warm_up"].get("not_settled") or []
    if late and done.calm.settles:
        most = max(summary["parts"][name]["residual_k"] for name in late)
        found.append(f"not settled at the end of the run: {', '.join(late)}; up to {most:.1f} K still to come")
    dew = summary["dew"]
    if dew is not None and dew["margin_k"] < 2.0:
        found.append(
            f"condensation: the coldest place, {dew['coldest_degc']:.1f} °C, is {dew['margin_k']:.1f} K above "
            f"the room's dew point, {dew['dew_point_degc']:.1f} °C; keep 2 to 3 K"
        )
    for name, pipe in summary["heat_pipes"].items():
        if not pipe["carries"]:
            found.append(
                f"heat pipe {name}: {pipe['load_w']:.0f} W against a capacity of {pipe['capacity_w']:.0f} W, "
                f"below the wanted margin of {pipe['wanted_margin']:g}"
            )
    return found

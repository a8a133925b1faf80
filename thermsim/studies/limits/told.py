"""All limits of a run that has ended."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from thermsim.studies.finished import Finished
from thermsim.studies.limits.entry import (
    MERGED,
    NOT_SETTLED,
    OUT_OF_RANGE,
    RESTLESS,
    Limit,
    in_order,
    limit,
)
from thermsim.studies.limits.heat import boiling, condensation, hot_air, no_way_out, pipes
from thermsim.studies.limits.passages import passage_limits
from thermsim.studies.limits.plates import plate_limits

Table = dict[str, Any]


def limits_of(done: Finished, summary: Table) -> list[Limit]:
    """Every limit once, by name, the gravest first."""
    model = done.model
    return in_order([
        *_rest(done, summary),
        *boiling({
            name: max(loop["hottest_degc"], loop["hottest_at_end_degc"] or 0.0)
            for name, loop in summary["coolant"].items()
        }),
        *pipes(summary["heat_pipes"]),
        *_hot_air(done),
        *condensation(summary["dew"]),
        *plate_limits(model, done.steadies),
        *passage_limits(model, done.steadies),
        *out_of_range(done.notes),
        *_merged(model.site.grid.moved),
    ])  # fmt: skip


def _rest(done: Finished, summary: Table) -> Iterator[Limit]:
    """Where it comes to no rest, or has not yet."""
    if done.end is None:
        yield no_way_out()
    if not done.calm.settles:
        yield limit(
            RESTLESS, (f"governor.{name}" for name in done.model.case.spec.governor),
            "steady temperatures are those at the last speeds tried: look at the curves, and try another gain",
        )  # fmt: skip
    late = summary["warm_up"].get("not_settled") or []
    if late and done.calm.settles:
        most = max(summary["parts"][name]["residual_k"] for name in late)
        yield limit(
            NOT_SETTLED, (f"part.{name}" for name in late),
            f"up to {most:.1f} K still to come when the run ends; a longer run.duration shows it",
            most, still_to_come_k=most,
        )  # fmt: skip


def _hot_air(done: Finished) -> Iterator[Limit]:
    """Hot air in any steady state, and as the run ends where that is none."""
    fields = [steady.conditions.temperature for steady in done.steadies]
    if done.end is None:
        fields.append(done.record.last_conditions().temperature)
    found = [one for full in fields for one in hot_air(done.model, full)]
    if found:
        yield max(found, key=lambda one: one["weight"])


def out_of_range(notes: tuple[str, ...]) -> Iterator[Limit]:
    """Correlations used outside the range they were made for, as their notes say."""
    if notes:
        names = [note.split(": ", 1)[0] for note in notes]
        yield limit(OUT_OF_RANGE, names, f"{'; '.join(notes)}. What rests on it is extrapolated", len(notes))


def _merged(moves: tuple[tuple[str, float, float], ...]) -> Iterator[Limit]:
    if moves:
        axis, start, end = max(moves, key=lambda move: abs(move[1] - move[2]))
        most = 1e3 * abs(start - end)
        yield limit(
            MERGED, (f"{axis} = {1e3 * at:.4g} mm" for axis, at, _ in moves),
            f"edges closer than run.merge were made one, moved by up to {most:.2g} mm ({axis} = {1e3 * start:.4g} to "
            f"{1e3 * end:.4g} mm)",
            most, moved_mm=most,
        )  # fmt: skip

"""How far a run moves with cells half as large, and with steps half as long: what its own fineness is worth.

Every cell of the grid and every segment of a stream is halved; steps of the second-order stepper, whose tolerance is on
a third-order error, are halved by an eighth of the tolerance. A steady state on cells a quarter as large tells the
order at which the first shrinks, and with it what is left (Richardson 1911).
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from math import log2
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.fields import MOST_SEGMENTS
from thermsim.case.lines import dotted
from thermsim.case.schema import Spec
from thermsim.model.build import build
from thermsim.model.grid import make_grid
from thermsim.model.size import refuse_absurd, size_of
from thermsim.model.system import Model
from thermsim.solve.engine import Engine
from thermsim.solve.steady import SteadySolver
from thermsim.store.result import Result
from thermsim.studies.limits.entry import COARSE, Limit, in_order, limit

Table = dict[str, Any]
Progress = Callable[[float, float], None]
Run = Callable[[Case, Path, "Progress | None", Engine], Result]
TOLD_K = 0.5
TOLD_SHARE = 0.02  # of the warm-up
HALVED_STEPS = 8.0  # tolerances
MENDS = {"cells": "a smaller run.cell (and more segments of streams)", "steps": "a smaller run.tolerance"}
ORDERS = (0.8, 2.5)  # first for streams, second for sheets; elsewhere nothing is extrapolated
TELLS_K = 1e-3  # least shift that an order can be told from
MOST_STEADY = 400_000  # unknowns of the third grid: more takes longer than the answer is worth
BASE_DONE, STEPS_DONE, CELLS_DONE = 0.15, 0.35, 0.9  # of the time, about


def finer(case: Case, times: int) -> Case:
    """The case with every cell halved, and every segment of its streams, so many times."""
    spec, factor = case.spec, 2**times
    changes: dict[str, Any] = {"run.halvings": spec.run.halvings + times}
    for path, segments in _segments(spec):
        changes[dotted(path)] = min(factor * segments, MOST_SEGMENTS[path[0]])
    return case.with_changes(changes)


def _segments(spec: Spec) -> Iterator[tuple[tuple[str, ...], int]]:
    for name, way in spec.airway.items():
        yield ("airway", name, "segments"), way.segments
    for name, hose in spec.hose.items():
        yield ("hose", name, "segments"), hose.segments
    for name, plate in spec.plate.items():
        yield ("plate", name, "channel", "segments"), plate.channel.segments


class Doubling:
    """The runs beside one run. Raises `CaseError` if they cannot be done here, before anything is run.

    They are made in a folder within `folder`, and not kept. `base_progress` is for the run itself.
    """

    def __init__(self, model: Model, engine: Engine, folder: Path, progress: Progress | None) -> None:
        self.case, self.engine, self.there = model.case, engine, folder / ".doubling"
        self.progress = progress
        self.base_progress = _part_of(progress, 0.0, BASE_DONE)
        fine = finer(self.case, 1).spec
        try:
            refuse_absurd(fine, make_grid(fine))
        except CaseError as error:
            told = [replace(one, message=f"to double it, {one.message}") for one in error.problems]
            raise CaseError(told) from None

    def told(self, summary: Table, run: Run) -> Table:
        """Shifts of every part, by cells and by steps."""
        tolerance = self.case.spec.run.tolerance / HALVED_STEPS
        shorter = self.case.with_changes({"run.tolerance": f"{tolerance!r} K"})
        try:
            by_steps = self._run(run, shorter, "steps", BASE_DONE, STEPS_DONE)
            by_cells = self._run(run, finer(self.case, 1), "cells", STEPS_DONE, CELLS_DONE)
        finally:
            shutil.rmtree(self.there, ignore_errors=True)
        quarter = self._steady_parts(summary)
        if self.progress:
            self.progress(1.0, 1.0)
        parts = {
            name: {
                "cells": _shift(told, by_cells["parts"][name]),
                "steps": _shift(told, by_steps["parts"][name]),
                **_richardson(told, by_cells["parts"][name], quarter.get(name)),
            }
            for name, told in summary["parts"].items()
        }
        return {
            "unknowns": [one["solution"]["unknowns"] for one in (summary, by_cells)],
            "steps": [one["solution"]["steps"] for one in (summary, by_steps)],
            "tolerance_k": [self.case.spec.run.tolerance, tolerance],
            "parts": parts,
        }

    def _run(self, run: Run, case: Case, name: str, start: float, stop: float) -> Table:
        summary: Table = run(case, self.there / name, _part_of(self.progress, start, stop), self.engine).summary
        return summary

    def _steady_parts(self, summary: Table) -> dict[str, float]:
        """Where parts settle with cells a quarter as large; none where that takes too much memory or time."""
        try:
            case = finer(self.case, 2)
            grid = make_grid(case.spec)
            if size_of(case.spec, grid).unknowns > MOST_STEADY:
                return {}
            fine = build(case)
        except CaseError:
            return {}
        start, stop = summary["warm_up"]["stretch_s"]
        steady = SteadySolver(fine).solve((start + stop) / 2)
        return {name: float(steady.temperature[fine.numbers(f"part.{name}")[0]]) for name in self.case.spec.part}


def add_doubling(summary: Table, told: Table) -> None:
    """Put what doubling told into a summary, with the limit it may have found."""
    summary["doubling"] = told
    summary["limits"] = in_order([*summary["limits"], *coarse(told)])


def _part_of(progress: Progress | None, start: float, stop: float) -> Progress | None:
    if progress is None:
        return None
    return lambda done, total: progress(start + (stop - start) * done / total, 1.0)


def _shift(before: Table, after: Table) -> Table:
    warm = after["warm_up_s"] - before["warm_up_s"] if None not in (before["warm_up_s"], after["warm_up_s"]) else None
    return {
        "peak_shift_k": after["peak_degc"] - before["peak_degc"],
        "steady_shift_k": after["steady_degc"] - before["steady_degc"],
        "warm_up_shift_s": warm,
        "warm_up_shift_share": warm / before["warm_up_s"] if warm is not None and before["warm_up_s"] else None,
    }


def _richardson(base: Table, half: Table, quarter: float | None) -> Table:
    """Order at which the steady shift shrinks, and what the run as it is lacks, K; None where no order is told."""
    first = half["steady_degc"] - base["steady_degc"]
    second = None if quarter is None else quarter - half["steady_degc"]
    if second is None or abs(second) < TELLS_K or first * second <= 0:
        return {"order": None, "left_k": None}
    order = log2(first / second)
    if not ORDERS[0] <= order <= ORDERS[1]:
        return {"order": order, "left_k": None}
    return {"order": order, "left_k": first + second + second / (2**order - 1)}


def coarse(told: Table) -> Iterator[Limit]:
    """The limit of a run whose cells or steps move it by more than half a kelvin, or its warm-up by 2 %."""
    moves: dict[str, tuple[float, str, str]] = {}
    for name, part in told["parts"].items():
        for of in ("cells", "steps"):
            shift = part[of]
            kelvin = max(abs(shift["peak_shift_k"]), abs(shift["steady_shift_k"]))
            share = abs(shift["warm_up_shift_share"] or 0.0)
            said = f"{kelvin:.2f} K" if kelvin > TOLD_K else f"its warm-up by {100 * share:.1f} %"
            weight = max(kelvin / TOLD_K, share / TOLD_SHARE)
            if weight > 1 and weight > moves.get(name, (0.0, ""))[0]:
                half = f"{of} half as {'large' if of == 'cells' else 'long'}"
                moves[name] = weight, f"{half} move part.{name} by {said}", of
    if moves:
        weight, text, _ = max(moves.values())
        yield limit(
            COARSE, (f"part.{name}" for name in moves),
            f"{text}; {TOLD_K:g} K and {100 * TOLD_SHARE:g} % are let pass. Take "
            + " and ".join(dict.fromkeys(MENDS[of] for *_, of in moves.values())),
            weight, times_let_pass=weight,
        )  # fmt: skip

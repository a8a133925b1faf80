"""One case run in time, from switch-on to its end, with its summary."""

from __future__ import annotations

import time as clock
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from tempfile import mkdtemp

import numpy as np

from thermsim.case.case import Case
from thermsim.model.build import build
from thermsim.model.size import refuse_without_room
from thermsim.model.system import Model
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.engine import Course, Engine, Start, course, spare_factor
from thermsim.solve.factor import NoPath
from thermsim.solve.record import Recorder, sample_times
from thermsim.solve.settle import CRITERIA, criterion_met
from thermsim.solve.steady import Steady, SteadySolver, solve_steady
from thermsim.solve.transient import Standing
from thermsim.store.result import Result, read_result
from thermsim.store.whole import write_json
from thermsim.store.write import ResultWriter
from thermsim.studies.doubling import Doubling, add_doubling
from thermsim.studies.finished import Finished
from thermsim.studies.summary import summarise

SUMMARY = "summary.json"
Progress = Callable[[float, float], None]  # simulated time, end


def run(
    case: Case,
    out: str | Path | None = None,
    progress: Progress | None = None,
    engine: Engine = "reduced",
    doubling: bool = False,
) -> Result:
    """Run a case and store `result.h5` in the folder `out` (a new temporary one by default).

    The `reduced` engine gives the same history as the `full` one within the indicator its summary states, and
    leaves it to that one where it does not get there. With `doubling` the summary tells how far cells half as large,
    and steps half as long, move every part.

    Returns the stored result; its `summary` tells what the command prints. Raises `SolveFailed` when the
    solver gives up, and `CaseError` where memory is too small to double.
    """
    folder = Path(out) if out is not None else Path(mkdtemp(prefix="thermsim-"))
    started = clock.perf_counter()
    with collect_ranges() as notes:
        model = build(case)
        refuse_without_room(case.spec, sum(sheet.node.size for sheet in model.site.sheets.values()), folder)
        double = Doubling(model, engine, folder, progress) if doubling else None
        built = clock.perf_counter()
        stretch = calm_stretch(model)
        solver = SteadySolver(model)
        calm = solver.solve(sum(stretch) / 2)
        last = steady_at_end(model, calm)
        settled = clock.perf_counter()
        writer = ResultWriter(folder / "result.h5", model, {"version": version("thermsim"), "engine": engine})
        try:
            steadies = [calm] if last is None or last is calm else [calm, last]
            start = Start(model, steadies, spare_factor(solver), writer.resumed.standing if writer.resumed else None)
            told = double.base_progress if double else progress
            if told:
                start.progress = lambda share: told(share * case.spec.run.duration, case.spec.run.duration)
            taken = course(start, engine)
            recorder, reason = _follow(taken, last, writer, told)
            timing = {
                "build_s": built - started,
                "steady_s": settled - built,
                "transient_s": clock.perf_counter() - settled,
            }
            done = Finished(model, calm, last, stretch, taken, recorder, reason, timing, tuple(notes))
            summary = summarise(done)
            if double:
                add_doubling(summary, double.told(summary, run))
            write_json(folder / SUMMARY, summary)
            writer.finish(summary)  # last: the result is what tells that a run is finished
        finally:
            writer.close()
    return read_result(folder / "result.h5")


def steady_at_end(model: Model, calm: Steady) -> Steady | None:
    """Where the inputs at the end would lead; None if to no steady state, as when nothing moves the coolant."""
    if not model.program.breaks:
        return calm
    try:
        return solve_steady(model, model.case.spec.run.duration, calm.temperature)
    except NoPath:
        return None


def calm_stretch(model: Model) -> tuple[float, float]:
    """The first stretch (s) without a jump of the inputs: the one that starts cold, in which warm-up is judged."""
    first = min(model.program.breaks, default=model.case.spec.run.duration)
    return 0.0, min(first, model.case.spec.run.duration)


def _follow(
    taken: Course, steady: Steady | None, writer: ResultWriter, progress: Progress | None
) -> tuple[Recorder, str]:
    """Step to the end, storing as frames are passed; returns the record and why it stopped.

    Only the full engine's steps are worth checkpoints: a basis takes no longer to grow anew.
    """
    history = taken.history
    model = history.model
    settings = model.case.spec.run
    end = settings.duration
    times = sample_times(end, model.program.breaks)
    recorder = Recorder(history.dynamics, np.linspace(0.0, end, settings.frames), times)
    resumed = writer.resumed
    if resumed:
        recorder.tally = resumed.tally
        recorder.curves = writer.stored_curves()
    reason = f"reached {end / 60:g} min"
    for step in taken.steps:
        stored = False
        for frame in recorder.take(step):
            writer.frame(frame)
            stored = True
        if stored:
            writer.curves(times, recorder.curves)
            if step.last.time < end and taken.engine == "full":
                last = step.last
                writer.checkpoint(Standing(last.time, last.x, last.governors, history.rung), recorder.tally)
        if progress:
            progress(step.last.time, end)
        if settings.until == "steady" and _is_steady(recorder, steady, settings.criterion, settings.settle):
            reason = f"steady by {settings.criterion} and within {settings.settle:g} K of its end"
            break
    writer.curves(times, recorder.curves)
    return recorder, reason


def _is_steady(recorder: Recorder, steady: Steady | None, name: str, tolerance: float) -> bool:
    """Every part meets the rate criterion, and none has more than the tolerance still to go."""
    curves = [(c, v) for c, v in recorder.curves.items() if c.group == "parts"]
    if not curves or steady is None:
        return False
    count = len(curves[0][1])
    if count < 10:
        return False
    values = np.column_stack([np.asarray(v) for _, v in curves])
    ends = np.array([steady.temperature[recorder.model.numbers(f"part.{c.name}")[0]] for c, _ in curves])
    if np.abs(values[-1] - ends).max() > tolerance:
        return False
    return criterion_met(recorder.curve_times[:count], values, 0.0, CRITERIA[name]).time is not None

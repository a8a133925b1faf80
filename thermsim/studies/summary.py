"""The summary of a run: plain facts with SI units in key names, the same for table, JSON and page."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.solve.governors import sensor_nodes
from thermsim.solve.ledger import outflows
from thermsim.solve.settle import CRITERIA, criterion_met, drift, warm_up
from thermsim.studies.bulk import bulk_told
from thermsim.studies.cautions import cautions
from thermsim.studies.finished import Finished
from thermsim.studies.limits.told import limits_of
from thermsim.studies.musts import judge
from thermsim.studies.noise import noise_told
from thermsim.studies.summary_flows import air_told, dew_told, fans_told, heat_pipes_told, loop_told

Table = dict[str, Any]
LEAST_HEAT = 1e-6  # J; what is less is the rounding of a case without heat


def summarise(done: Finished) -> Table:
    """Everything worth telling about a run; numbers, text, lists and tables only."""
    case = done.model.case
    parts = {name: _part(done, name) for name in case.spec.part}
    summary: Table = {
        "thermsim": version("thermsim"),
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": case.option,
        "mishaps": list(case.mishaps),
        "stop_reason": done.reason,
        "simulated_s": float(done.record.curve_times[done.record.tally.samples - 1]),
        "parts": parts,
        "probes": {name: _probe(done, name) for name in case.spec.probe},
        "warm_up": _warm_up(done, parts),
        "air": air_told(done),
        "coolant": {name: loop_told(done, name) for name in case.spec.loop},
        "speeds": {key: float(value) for key, value in done.calm.inputs.controls.speeds.items()},
        "fans": fans_told(done),
        "noise": noise_told(done),
        "dew": dew_told(done),
        "solids": _solids(done),
        "heat_pipes": heat_pipes_told(done),
        "ledger": _ledger(done),
        "energy": _energy(done),
        "solution": _solution(done),
        "bulk": bulk_told(case),
        "doubling": None,
    }
    summary["must_haves"] = judge(case, summary)
    summary["correlations"] = [
        {"where": where, "name": name, "regime": kind}
        for where, name, kind in sorted(set[Any]().union(*(steady.conditions.used for steady in done.steadies)))
    ]
    summary["limits"] = limits_of(done, summary)
    summary["warnings"] = [str(problem) for problem in case.warnings]
    summary["cautions"] = cautions(case)
    return summary


def _times(done: Finished, values: Floats) -> Floats:
    times: Floats = done.record.curve_times[: values.size]
    return times


def _within(done: Finished, values: Floats) -> tuple[Floats, Floats]:
    """Times since the calm stretch began, and the values in it."""
    times = _times(done, values)
    start, stop = done.stretch
    inside = (times >= start) & (times <= stop)
    return times[inside] - start, values[inside]


def _part(done: Finished, name: str) -> Table:
    spec = done.model.case.spec
    part = spec.part[name]
    node = done.model.numbers(f"part.{name}")[0]
    values = done.curve("parts", name)
    calm = float(done.calm.temperature[node])
    end = None if done.end is None else float(done.end.temperature[node])
    peak = float(values.max())
    worst = worst_degc(peak, end, part.limit, done.comes_to_rest)
    since, inside = _within(done, values)
    told: Table = {
        "watts": done.model.program.part_watts(name, sum(done.stretch) / 2),
        "steady_degc": calm,
        "steady_at_end_degc": end,
        "end_degc": float(values[-1]),
        "peak_degc": peak,
        "worst_degc": worst,
        "limit_degc": part.limit,
        "limit_at": part.limit_at if part.limit is not None else None,
        "margin_k": part.limit - worst if part.limit is not None else None,
        "over_limit_at_s": _first_over(_times(done, values), values, part.limit),
        "warm_up_s": warm_up(since, inside, calm, spec.run.settle) if done.calm.settles else None,
        "residual_k": float(abs(inside[-1] - calm)),
    }
    if part.drift is not None or part.doubling is not None:
        error = drift(inside, calm, part.drift, part.doubling)
        told["reading"] = {
            "start_ppm": float(1e6 * error[0]),
            "end_ppm": float(1e6 * error[-1]),
            "tolerance_ppm": 1e6 * part.reading_tolerance if part.reading_tolerance else None,
            "warm_up_s": warm_up(since, error, 0.0, part.reading_tolerance) if part.reading_tolerance else None,
        }
    return told


def _probe(done: Finished, name: str) -> Table:
    """Where a probe settles, and the most it reads."""
    peak = float(done.curve("probes", name).max())
    node = sensor_nodes(done.model, f"probe.{name}")[0]
    end = None if done.end is None else float(done.end.temperature[node])
    return {
        "steady_degc": float(done.calm.temperature[node]),
        "peak_degc": peak,
        "worst_degc": worst_degc(peak, end, None, done.comes_to_rest),
    }


def worst_degc(peak: float, end: float | None, limit: float | None, comes_to_rest: bool) -> float:
    """What a limit is judged by: the run's peak, or where the part would settle if the run stays under the limit."""
    over = limit is not None and peak > limit
    return peak if over or end is None or not comes_to_rest else max(peak, end)


def _first_over(times: Floats, values: Floats, limit: float | None) -> float | None:
    if limit is None or not (values > limit).any():
        return None
    k = int(np.argmax(values > limit))
    if k == 0:
        return float(times[0])
    share = (limit - values[k - 1]) / (values[k] - values[k - 1])
    return float(times[k - 1] + share * (times[k] - times[k - 1]))


def _warm_up(done: Finished, parts: Table) -> Table:
    """Settling of the slowest part, and the rate criteria with what is still to come when each is met."""
    spec = done.model.case.spec
    told: Table = {
        "tolerance_k": spec.run.settle,
        "settles": done.calm.settles,
        "stretch_s": list(done.stretch),
    }
    if not parts:
        return told
    times = {name: part["warm_up_s"] for name, part in parts.items()}
    late = [name for name, time in times.items() if time is None]
    slowest = late[0] if late else max(times, key=lambda name: times[name])
    told |= {"slowest_part": slowest, "time_s": None if late else times[slowest], "not_settled": late}
    table = np.column_stack([_within(done, done.curve("parts", name))[1] for name in parts])
    since = _within(done, done.curve("parts", slowest))[0]
    ends = np.array([part["steady_degc"] for part in parts.values()])
    told["criteria"] = {}
    for name, criterion in CRITERIA.items():
        met = criterion_met(since, table, ends, criterion)  # type: ignore[arg-type]
        told["criteria"][name] = {
            "time_s": met.time,
            "still_to_come_k": met.residual,
            "source": criterion.source,
        }
    return told


def _solids(done: Finished) -> Table:
    told: Table = {}
    for address, sheet in done.model.site.sheets.items():
        active = sheet.node >= 0
        values = done.calm.temperature[sheet.node[active]]
        told[address] = {
            "mean_degc": float(np.average(values, weights=sheet.area[active])),
            "max_degc": float(values.max()),
            "min_degc": float(values.min()),
        }
    for kind in ("wall", "sink", "block"):
        for name in getattr(done.model.case.spec, kind):
            address = f"{kind}.{name}"
            told[address] = {"mean_degc": float(done.calm.temperature[done.model.numbers(address)[0]])}
    return told


def _ledger(done: Finished) -> Table:
    """Watts at the end of the run: supplied, what each way out carries, and what is still being stored."""
    now = done.record.last_conditions()
    strengths = done.model.strengths(now)
    ways = outflows(done.model, now, strengths)
    supplied = done.record.last_supplied
    return {
        "supplied_w": supplied,
        "leaving_w": dict(sorted(ways.items(), key=lambda item: -abs(item[1]))),
        "stored_w": supplied - sum(ways.values()),
    }


def _energy(done: Finished) -> Table:
    record = done.record.tally
    left = record.supplied - record.rejected - record.stored
    scale = max(record.supplied, abs(record.stored), LEAST_HEAT)
    return {
        "supplied_j": record.supplied,
        "rejected_j": record.rejected,
        "stored_j": record.stored,
        "residual_fraction": left / scale,
    }


def _solution(done: Finished) -> Table:
    grid = done.model.site.grid
    return {
        **done.course.told(),
        "unknowns": done.model.node_count,
        "grid": [grid.x.size - 1, grid.y.size - 1],
        "steps": done.record.tally.steps,
        "tolerance_k": done.model.case.spec.run.tolerance,
        **{name: round(value, 3) for name, value in done.timing.items()},
    }

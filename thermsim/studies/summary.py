"""The summary of a run: plain facts with SI units in key names, the same for table, JSON and page."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import numpy as np

from thermsim.model.links import Floats
from thermsim.model.system import Model
from thermsim.physics.ducts import regime
from thermsim.physics.heat_pipes import derated_capacity
from thermsim.physics.moist_air import dew_point
from thermsim.solve.ledger import outflows, through
from thermsim.solve.record import Recorder, noise_levels, source_levels
from thermsim.solve.settle import CRITERIA, criterion_met, drift, warm_up
from thermsim.solve.steady import Steady
from thermsim.solve.transient import Transient
from thermsim.studies.cautions import cautions
from thermsim.studies.musts import judge

Table = dict[str, Any]


@dataclass(frozen=True)
class Finished:
    """A run that has ended: the model, steady states of its longest calm stretch and of its end, the record."""

    model: Model
    calm: Steady
    end: Steady
    stretch: tuple[float, float]  # s, the longest stretch without a jump of the inputs
    history: Transient
    record: Recorder
    reason: str
    timing: dict[str, float]
    notes: tuple[str, ...]


def summarise(done: Finished) -> Table:
    """Everything worth telling about a run; numbers, text, lists and tables only."""
    model, case = done.model, done.model.case
    parts = {name: _part(done, name) for name in case.spec.part}
    summary: Table = {
        "thermsim": version("thermsim"),
        "title": case.title,
        "invented": case.spec.case.invented,
        "option": case.option,
        "mishaps": list(case.mishaps),
        "stop_reason": done.reason,
        "simulated_s": float(done.record.curve_times[len(_curve(done, "parts", next(iter(parts)))) - 1]) if parts else 0.0,
        "parts": parts,
        "warm_up": _warm_up(done, parts),
        "air": _air(done),
        "coolant": {name: _loop(done, name) for name in case.spec.loop},
        "speeds": {key: float(value) for key, value in done.calm.inputs.controls.speeds.items()},
        "noise": _noise(done),
        "dew": _dew(done),
        "solids": _solids(done),
        "heat_pipes": {name: _heat_pipe(done, name) for name in case.spec.heat_pipe},
        "ledger": _ledger(done),
        "energy": _energy(done),
        "solution": _solution(done),
    }
    summary["must_haves"] = judge(case, summary)
    summary["correlations"] = [
        {"where": where, "name": name, "regime": kind}
        for where, name, kind in sorted(done.calm.conditions.used | done.end.conditions.used)
    ]
    summary["warnings"] = _warnings(done, summary)
    summary["cautions"] = cautions(case)
    return summary


def _curve(done: Finished, group: str, name: str) -> Floats:
    for curve, values in done.record.curves.items():
        if curve.group == group and curve.name == name:
            return np.asarray(values)
    raise KeyError(name)


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
    values = _curve(done, "parts", name)
    calm, end = float(done.calm.temperature[node]), float(done.end.temperature[node])
    peak = max(float(values.max()), calm if done.calm.settles else -np.inf)
    since, inside = _within(done, values)
    told: Table = {
        "watts": done.model.program.part_watts(name, sum(done.stretch) / 2),
        "steady_degc": calm,
        "steady_at_end_degc": end,
        "end_degc": float(values[-1]),
        "peak_degc": peak,
        "limit_degc": part.limit,
        "limit_at": part.limit_at if part.limit is not None else None,
        "margin_k": part.limit - max(peak, end) if part.limit is not None else None,
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
    told: Table = {"tolerance_k": spec.run.settle, "settles": done.calm.settles, "stretch_s": list(done.stretch)}
    if not parts:
        return told
    times = {name: part["warm_up_s"] for name, part in parts.items()}
    late = [name for name, time in times.items() if time is None]
    slowest = late[0] if late else max(times, key=lambda name: times[name])
    told |= {"slowest_part": slowest, "time_s": None if late else times[slowest], "not_settled": late}
    table = np.column_stack([_within(done, _curve(done, "parts", name))[1] for name in parts])
    since = _within(done, _curve(done, "parts", slowest))[0]
    ends = np.array([part["steady_degc"] for part in parts.values()])
    told["criteria"] = {}
    for name, criterion in CRITERIA.items():
        met = criterion_met(since, table, ends, criterion)  # type: ignore[arg-type]
        told["criteria"][name] = {"time_s": met.time, "still_to_come_k": met.residual, "source": criterion.source}
    return told


def _air(done: Finished) -> Table:
    told = {}
    for name, air in done.calm.conditions.air.items():
        chain = done.model.site.chains[name]
        full = done.calm.conditions.temperature
        told[name] = {
            "flow_m3_per_s": air.flow,
            "flow_m3_per_h": 3600 * air.flow,
            "pressure_pa": air.pressure,
            "inlet_degc": float(full[chain[0]]),
            "outlet_degc": float(full[chain[-1]]),
            "density_kg_per_m3": air.state.density,
        }
    return told


def _loop(done: Finished, name: str) -> Table:
    point = done.calm.conditions.loops[name]
    hydraulics = done.model.operating.loops[name]
    spec, full = done.model.case.spec, done.calm.conditions.temperature
    elements: Table = {}
    for address, passage in hydraulics.passages.items():
        flow = point.flows[address]
        re = passage.reynolds(flow, point.liquid)
        elements[address] = {
            "flow_l_per_min": 6e4 * flow,
            "drop_pa": passage.drop(flow, point.liquid),
            "reynolds": re,
            "regime": regime(re) if re is not None else None,
        }
    nodes = done.model.coolant_nodes[name]
    told: Table = {
        "coolant": str(hydraulics.coolant),
        "flow_l_per_min": 6e4 * point.flows["pump"],
        "pressure_pa": hydraulics.drop(hydraulics.series, point.flows["pump"], point.liquid, frozenset()),
        "mean_degc": point.temperature_degc,
        "coldest_degc": float(full[nodes].min()),
        "hottest_degc": float(full[nodes].max()),
        "elements": elements,
        "radiators": {},
    }
    for address in hydraulics.passages:
        if address.startswith("radiator."):
            told["radiators"][address] = _radiator(done, address, spec)
    return told


def _radiator(done: Finished, address: str, spec: Any) -> Table:
    for k, group in enumerate(done.model.groups):
        if group.name == address and group.kind == "exchanger":
            strength = float(done.calm.strengths[k])
            air_in, coolant_in = group.sender[0], group.sender[1]
            full = done.calm.conditions.temperature
            return {
                "conductance_w_per_k": strength,
                "watts": strength * float(full[coolant_in] - full[air_in]),
                "coolant_in_degc": float(full[coolant_in]),
                "air_in_degc": float(full[air_in]),
            }
    raise KeyError(address)


def _noise(done: Finished) -> Table:
    speeds = dict(done.calm.inputs.controls.speeds)
    source, total = noise_levels(done.model, speeds)
    return {
        "sources_dba": source,
        "with_room_dba": total,
        "room_dba": done.model.case.spec.room.noise_floor,
        "each_dba": source_levels(done.model, speeds),
        "loudest_dba": float(_curve(done, "noise", "sources").max()) if done.record.curves else source,
    }


def _dew(done: Finished) -> Table | None:
    room = done.model.case.spec.room
    if room.humidity is None:
        return None
    dew = dew_point(room.temperature, room.humidity)
    coldest = min(float(done.calm.conditions.temperature.min()), float(done.end.conditions.temperature.min()))
    return {"dew_point_degc": dew, "coldest_degc": coldest, "margin_k": coldest - dew}


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


def _heat_pipe(done: Finished, name: str) -> Table:
    pipe = done.model.case.spec.heat_pipe[name]
    load = abs(through(done.model, done.calm.conditions, done.calm.strengths, f"heat_pipe.{name} at {pipe.between[0]}"))
    each = derated_capacity(pipe.capacity, pipe.bends, pipe.bend_factor, pipe.flattening_factor)
    capacity = pipe.count * each
    return {
        "load_w": load,
        "capacity_w": capacity,
        "margin": capacity / load if load else None,
        "wanted_margin": pipe.margin,
        "carries": capacity >= pipe.margin * load,
        "capacity_one_lost_w": (pipe.count - 1) * each,
    }


def _ledger(done: Finished) -> Table:
    """Watts at the end of the run: supplied, what each way out carries, and what is still being stored."""
    now = done.record.last_conditions
    assert now is not None
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
    scale = max(record.supplied, abs(record.stored), 1e-12)
    return {
        "supplied_j": record.supplied,
        "rejected_j": record.rejected,
        "stored_j": record.stored,
        "residual_fraction": left / scale,
    }


def _solution(done: Finished) -> Table:
    stepper = done.history.stepper
    grid = done.model.site.grid
    return {
        "engine": "full",
        "unknowns": done.model.node_count,
        "grid": [grid.x.size - 1, grid.y.size - 1],
        "steps": done.record.tally.steps,
        "steps_rejected": done.history.rejected,
        "factorisations": stepper.factorisations,
        "solves": stepper.solves,
        "tolerance_k": done.history.tolerance,
        **{name: round(value, 3) for name, value in done.timing.items()},
    }


def _warnings(done: Finished, summary: Table) -> list[str]:
    found = [*done.model.site.grid.shifts, *done.notes]
    found += [str(problem) for problem in done.model.case.warnings]
    for name, loop in summary["coolant"].items():
        found += [
            f"{address}: Reynolds number {element['reynolds']:.0f}, {element['regime']}: film and drop are uncertain"
            for address, element in loop["elements"].items()
            if element["regime"] in ("near transition", "transitional")
        ]
        if loop["hottest_degc"] > 95:
            found.append(f"loop {name}: coolant reaches {loop['hottest_degc']:.0f} °C and may boil")
    if not done.calm.settles:
        found.append("a switching governor never rests: steady temperatures are those at its high speed")
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

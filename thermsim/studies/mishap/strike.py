"""One mishap of one option: what was settled before, the first limit, where it ends, alarms, and what stays safe."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.case.references import tables as named_tables
from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats
from thermsim.model.fill import fill_after
from thermsim.model.program import watts_in
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.factor import SolveFailed
from thermsim.studies.mishap.alarms import alarms, best_alarm
from thermsim.studies.mishap.cases import STRUCK, calm_case, struck_case, total_watts
from thermsim.studies.mishap.history import History, history_of
from thermsim.studies.mishap.power import safe_power
from thermsim.studies.mishap.troubles import Trouble
from thermsim.studies.settled import Settled, Settler

Facts = dict[str, Any]
SHOWN = 72  # times of a history that are told
SHOWN_PARTS = 4
SHOWN_AT_LEAST_S = 60.0
BEYOND = 1.3  # times the first limit, to be shown


def strike(case: Case, trouble: Trouble) -> Facts:
    """Facts of a mishap; `failed` tells why in place of most of them where no solution was found."""
    told: Facts = {
        "option": case.option,
        "mishap": trouble.name,
        "text": trouble.text,
        "what": trouble.what,
        "at_s": trouble.at,
        "on_top_of": list(case.mishaps),
    }
    try:
        with collect_ranges() as notes:
            return told | _strike(case, trouble) | {"notes": list(notes)}
    except SolveFailed as reason:
        return told | {"failed": str(reason)}


def _strike(case: Case, trouble: Trouble) -> Facts:
    settler = Settler()
    calm = calm_case(case, trouble.at)
    before = settler.settle(calm)
    struck = struck_case(calm, trouble, before.speeds)
    history = history_of(before, struck)
    over_before = [name for name, margin in before.margins.items() if margin < 0]
    over = _over(history)
    first = next((name for name in over if name not in over_before), None)
    ends = _ends(history, struck)
    shortest = adiabatic(calm, before, first or ends["worst_part"])
    readable = {governor.sensor.removeprefix("part.") for governor in calm.spec.governor.values()}
    readable.add(first or ends["worst_part"] or "")
    told = alarms(history, struck.spec.mishap[STRUCK], readable, over[first] if first else None)
    return {
        "watts": total_watts(calm),
        "limits_degc": {name: part.limit for name, part in calm.spec.part.items() if part.limit is not None},
        "settled_before_degc": before.parts,
        "over_before": over_before,
        "first_over": None if first is None else _first(calm, first, over[first]),
        "over_s": over,
        "ends": ends,
        "adiabatic": shortest,
        "heated_from_outside": bool(first and shortest and over[first] < shortest["time_s"]),
        "alarms": told,
        "best_alarm": best_alarm(told),
        "level": _levels(struck),
        "safe_power": safe_power(struck, settler),
        "hottest_coolant_degc": _hottest_coolant(history),
        "engine": history.engine,
        "history": _shown(history, first, over.get(first or "")),
    }  # fmt: skip


def adiabatic(calm: Case, before: Settled, part: str | None) -> Facts | None:
    """The shortest time in which a part's own watts could take it to its limit: C (limit − T) / W, all of them kept in
    its own heat capacity. Only heat from hotter neighbours or from a hotter room could be quicker.

    `time_with_s`: the same with the sink or block that sits on it, whose drop is no larger than when settled.
    """
    table = None if part is None else calm.spec.part[part]
    if table is None or table.limit is None:
        return None
    watts = watts_in(table, calm.spec.run.state)
    if watts <= 0:
        return None
    seconds = max(table.limit - before.parts[part or ""], 0.0) / watts
    joined = _joined(calm.spec, f"part.{part}")
    return {
        "part": part,
        "time_s": seconds * table.heat_capacity,
        "with": list(joined),
        "time_with_s": seconds * (table.heat_capacity + sum(joined.values())),
    }


def _joined(spec: Spec, part: str) -> dict[str, float]:
    """Heat capacity (J/K) of the sinks and blocks that are joined to a part and to nothing else."""
    found = {}
    for kind in ("sink", "block"):
        for name, table in named_tables(spec, kind).items():
            address = f"{kind}.{name}"
            ends = {end for joint in spec.joint.values() if address in joint.between for end in joint.between}
            if ends == {part, address}:
                found[address] = table.heat_capacity or 0.0
    return found


def _over(history: History) -> dict[str, float]:
    """When each part passes its limit, s, the first first."""
    found = {}
    for name, part in history.model.case.spec.part.items():
        time = None if part.limit is None else history.crossing(history.part(name), part.limit)
        if time is not None:
            found[name] = time
    return dict(sorted(found.items(), key=lambda item: item[1]))


def _first(calm: Case, part: str, time: float) -> Facts:
    return {"part": part, "time_s": time, "limit_degc": calm.spec.part[part].limit}


def _ends(history: History, struck: Case) -> Facts:
    """Where it comes to rest; where it does not, how it stands when the history breaks off."""
    parts = {name: float(history.part(name)[-1]) for name in struck.spec.part}
    told: Facts = {"rests": False, "settled": False, "rest_s": None, "coldest_degc": None, "dew_margin_k": None}
    if history.end is not None:
        state = Settled(history.model, history.end)
        rest_s = _rest(history, state.parts, struck.spec.run.settle)
        facts = state.facts()
        parts = state.parts
        told |= {key: facts[key] for key in ("coldest_degc", "dew_margin_k")}
        told |= {"rests": facts["settles"], "settled": facts["settles"] and rest_s is not None, "rest_s": rest_s}
    margins = {name: part.limit - parts[name] for name, part in struck.spec.part.items() if part.limit is not None}
    worst = min(margins, key=lambda name: margins[name], default=None)
    told |= {"parts_degc": parts, "worst_part": worst, "worst_margin_k": None if worst is None else margins[worst]}
    return told | {"followed_s": float(history.times[-1])}


def _rest(history: History, ends: dict[str, float], tolerance: float) -> float | None:
    """From when on every part is within a tolerance of where it comes to rest, s."""
    off = np.column_stack([np.abs(history.part(name) - degc) for name, degc in ends.items()]) > tolerance
    if off[-1].any():
        return None
    late = np.flatnonzero(off.any(axis=1))
    return float(history.times[late[-1] + 1]) if late.size else 0.0


def _levels(struck: Case) -> Facts:
    """What each loop that loses coolant has left."""
    spec = struck.spec
    fills = {loop: fill_after(spec, loop, share) for loop, share in spec.mishap[STRUCK].coolant_lost.items()}
    return {loop: {"reservoir_left": fill.reservoir, "pump_draws_air": fill.runs_dry} for loop, fill in fills.items()}


def _hottest_coolant(history: History) -> float | None:
    """The hottest that the coolant gets anywhere, °C, and where it comes to rest."""
    found = [float(one.values.max()) for one in history.readings if one.kind == "coolant"]
    if history.end is not None:
        found += [float(history.end.temperature[nodes].max()) for nodes in history.model.coolant_nodes.values()]
    return max(found, default=None)


def _shown(history: History, part: str | None, first: float | None) -> Facts:
    """The part that is first over its limit and the next worst, until some time past that, or until all is at rest."""
    spec = history.model.case.spec
    parts = {name: history.part(name) for name in spec.part}
    if not parts:
        return {"time_s": [], "parts_degc": {}}
    if first is None:
        moving = np.abs(np.column_stack([values - values[-1] for values in parts.values()])).max(axis=1)
        late = np.flatnonzero(moving > spec.run.settle)
        until = float(history.times[late[-1]]) if late.size else 0.0
    else:
        until = BEYOND * first
    until = min(max(until, SHOWN_AT_LEAST_S), float(history.times[-1]))
    times: Floats = np.unique(np.r_[0.0, np.geomspace(until / 200, until, 24), np.linspace(0.0, until, SHOWN - 24)])
    alike: dict[str, str] = {}  # of adc1, adc2 … the one nearest to its limit
    for name in sorted(parts, key=lambda name: (name != part, _closeness(spec.part[name].limit, parts[name]))):
        alike.setdefault(name.rstrip("0123456789"), name)
    nearest = list(alike.values())[:SHOWN_PARTS]
    curves = {name: np.interp(times, history.times, parts[name]).round(3).tolist() for name in nearest}
    return {"time_s": times.round(3).tolist(), "parts_degc": curves}


def _closeness(limit: float | None, values: Floats) -> float:
    return float("inf") if limit is None else limit - float(values.max())

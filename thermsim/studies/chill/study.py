"""What chilled air alone achieves: the inlet swept from cold to warm, speeds frozen and governors live."""

from __future__ import annotations

from pathlib import Path

from thermsim.case.case import Case
from thermsim.case.chilling_checks import airway_to_chill, chill_ends
from thermsim.case.deciding_checks import named_states
from thermsim.case.errors import CaseError, Problem
from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats
from thermsim.solve.noise import unstated
from thermsim.studies.cautions import cautions
from thermsim.studies.chill.answer import answer
from thermsim.studies.chill.equivalent import equivalent, limits_kept_from, lowest_dry
from thermsim.studies.chill.inlets import Bench, Course, Facts, fed, inlets_swept
from thermsim.studies.chill.trial import own_trials, trial, trial_told
from thermsim.studies.chill.verdict import verdict
from thermsim.studies.chill.warnings import limits_of, warnings_of
from thermsim.studies.chill.weather import Weather, read_weather
from thermsim.studies.decide.roles import BASE, named, roles
from thermsim.studies.frozen import frozen, is_governed
from thermsim.studies.kept import Kept
from thermsim.studies.noise import quiet_limit
from thermsim.studies.settled import what_moves
from thermsim.studies.stored import store
from thermsim.studies.turns import TOGETHER
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import Progress

DRY_BY = (2.0, 3.0)  # K above the dew point: common practice, no source
LEAST_COLDER = 0.5  # K
LIQUID = ("loop", "pump", "hose", "plate", "block", "radiator", "reservoir")
AFTER_SWEEP = 3  # pieces of work: the coldest dry inlet, the trial and its warm-up
ASSUMPTION = (
    "the room's air has the moisture of the outdoor air, warmed or cooled to the room's temperature, and so its dew "
    "point; chilling the inlet does not dry it"
)


def chill(
    case: Case,
    folder: str | Path,
    weather: str | Path | None = None,
    where: Where = IN_THIS_PROCESS,
    progress: Progress | None = None,
) -> Facts:
    """Sweep the inlet of the airway that `[chill]` names; facts, also stored as `chill.json` in `folder`.

    `weather`: a CSV file of hourly rows, see `read_weather`. Steady states are kept in the folder as they come, so a
    call that was interrupted goes on. A shard shares out the inlets and the liquid options, not what rests on them.
    Raises `CaseError` where there is no airway to chill, `NoPath` or `SolveFailed` where a state is not found.
    """
    airway = _airway(case)
    low, high = _ends(case)
    hours = None if weather is None else read_weather(weather)
    inlets = inlets_swept(case, low, high)
    options, left_out = _options(case)
    liquids, own = _liquid_options(case, options), own_trials(case, options, airway)
    count = 0

    def step() -> None:
        nonlocal count
        count += 1
        if progress:
            progress(count, max(count, total))

    courses = (2 if is_governed(case) else 1) * -(-len(inlets) // TOGETHER)
    total = 1 + courses + len(liquids) + AFTER_SWEEP
    with Kept.of(folder, "chill", where.shard) as kept:
        facts = _study(case, airway, inlets, liquids, own, hours, Bench(kept, where, step))
    facts["warnings"] += left_out
    store(folder, case, facts)
    return facts


def _study(
    case: Case, airway: str, inlets: Floats, liquids: dict[str, Case], own: dict[str, float], hours: Weather | None,
    bench: Bench,
) -> Facts:  # fmt: skip
    spec = case.spec
    room = spec.room.temperature
    (base,) = bench.settle(fed(case, airway, room))
    held = frozen(case, base["speeds"])
    twins = (case, held) if is_governed(case) else (case,)
    swept = [[fed(one, airway, inlet) for inlet in inlets[::-1]] for one in twins]
    found = bench.courses(*swept, *([option] for option in liquids.values()))
    bench.where.end_of_share()
    live, still = (Course(inlets, found[k][::-1]) for k in (0, len(twins) - 1))
    options = {name: state for name, (state,) in zip(liquids, found[len(twins) :], strict=True)}
    dew = base["coldest_degc"] - base["dew_margin_k"] if base["dew_margin_k"] is not None else None
    driest = float(inlets[0]) if dew is None else lowest_dry(still, dew, spec.chill.dew_margin)
    if driest is not None and driest >= room:
        driest = None
    coldest = None if driest is None else _coldest_dry(bench, case, held, airway, driest)
    told = trial(bench, held, airway, still, driest, own)
    driven = [device for governor in spec.governor.values() for device in governor.drives]
    facts: Facts = {
        "study": "chill",
        "title": case.title,
        "invented": spec.case.invented,
        "option": case.option,
        "state": spec.run.state if named_states(spec) else None,
        "airway": airway,
        "room_degc": room,
        "humidity": spec.room.humidity,
        "dew_point_degc": dew,
        "dew_margin_k": spec.chill.dew_margin,
        "uncertainty_k": spec.decide.uncertainty,
        "quiet_limit_dba": quiet_limit(spec),
        "noise_without": unstated(spec),
        "limits_degc": {name: part.limit for name, part in spec.part.items() if part.limit is not None},
        "inlets_degc": inlets.tolist(),
        "governed": is_governed(case),
        "governors": {name: {"sensor": one.sensor, "drives": list(one.drives)} for name, one in spec.governor.items()},
        "base": base,
        "live": live.facts() | {"limits_kept_from_degc": limits_kept_from(live)},
        "frozen": still.facts() | {"limits_kept_from_degc": limits_kept_from(still)},
        "equivalents": [
            equivalent(name, state, still, live) | {"noise_without": unstated(liquids[name].spec)}
            for name, state in options.items()
        ],
        "lowest_dry_inlet_degc": {
            f"{margin:g}": None if dew is None else lowest_dry(still, dew, margin) for margin in DRY_BY
        },
        "coldest_dry": coldest,
        "weather": None if hours is None else _weather(hours, still, options, None if dew is None else coldest),
        "trial": None if told is None else trial_told(told, [f"governor.{name}" for name in spec.governor], driven),
    }
    facts["verdict"] = verdict(facts)
    facts["answer"] = answer(facts)
    left_out = what_moves(fed(case, airway, room))
    facts["limits"] = limits_of(facts)
    facts["warnings"] = warnings_of(facts) + left_out + [str(problem) for problem in case.warnings]
    facts["cautions"] = cautions(fed(case, airway, float(inlets[0])))
    return facts


def _coldest_dry(bench: Bench, case: Case, held: Case, airway: str, inlet: float) -> Facts:
    """The states at the coldest inlet that stays dry."""
    still, live = bench.settle(*(fed(one, airway, inlet) for one in (held, case)))
    return {"inlet_degc": inlet, "frozen": still, "live": live}


def _weather(hours: Weather, course: Course, options: dict[str, Facts], coldest: Facts | None) -> Facts:
    """Hours in which the coldest place would be wet, or within 2 K of it, at each inlet and with each liquid option."""
    places = {f"option {name}": state["coldest_degc"] for name, state in options.items()}
    if coldest is not None:
        places["coldest dry inlet"] = coldest["frozen"]["coldest_degc"]
    surfaces = course.curve("coldest_degc").tolist()
    return hours.facts() | {
        "assumption": ASSUMPTION,
        "hours_below": [hours.hours_below(surface) for surface in surfaces],
        "hours_below_or_within_2k": [hours.hours_below(surface, 2.0) for surface in surfaces],
        "places": {
            name: {
                "coldest_degc": degc,
                "hours_below": hours.hours_below(degc),
                "hours_below_or_within_2k": hours.hours_below(degc, 2.0),
            }
            for name, degc in places.items()
        },
    }


def _airway(case: Case) -> str:
    """The airway to chill; raises `CaseError` where there is none."""
    found = airway_to_chill(case.spec)
    if found is not None:
        return found
    stated = case.spec.chill.airway
    what = f"this option has no airway {stated}" if stated else "no airway takes air from outside and cools the box"
    raise _wrong(case, "airway", f"{what}; there is nothing to chill")


def _ends(case: Case) -> tuple[float, float]:
    """Lowest and highest inlet, °C: colder than the room, and with parts to look at."""
    (low, high), room = chill_ends(case.spec), case.spec.room.temperature
    if not case.spec.part:
        raise _wrong(case, "airway", "this case has no parts to keep cool")
    if low > min(room, high) - LEAST_COLDER:
        what = f"the sweep must begin below the room's {room:g} °C and its own high, by {LEAST_COLDER:g} K or more"
        key = "high" if case.spec.chill.low is None else "low"
        raise _wrong(case, key, f"{what}; got {low:g} to {high:g} °C")
    return low, high


def _wrong(case: Case, key: str, message: str) -> CaseError:
    return CaseError([Problem(str(case.path or "case"), None, f"chill.{key}", message)])


def _options(case: Case) -> tuple[dict[str, Case], list[str]]:
    """The base case and the options, and what is left out: those that lack what a change of the case is about."""
    cases, left_out = {BASE: case.with_option(None)}, []
    for name in case.options:
        try:
            cases[name] = case.with_option(name)
        except CaseError as error:
            left_out.append(f"option {name} is left out: {error}")
    return cases, left_out


def _liquid_options(case: Case, cases: dict[str, Case]) -> dict[str, Case]:
    """Options with liquid other than that of the case at hand, no mishaps nor mere conditions."""
    names = named(roles(cases), "liquid", "other")
    found = {name: cases[name] for name in names if cases[name].spec.loop}
    return {name: one for name, one in found.items() if not _same_liquid(one.spec, case.spec)}


def _same_liquid(one: Spec, other: Spec) -> bool:
    return all(getattr(one, kind) == getattr(other, kind) for kind in LIQUID)

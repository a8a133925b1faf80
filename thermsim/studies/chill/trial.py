"""The cheapest trial on a bench: how cold the inlet must be to see it, for how long, and what would refute it."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, floor
from tempfile import TemporaryDirectory
from typing import Any

from thermsim.case.case import Case
from thermsim.studies.chill.equivalent import highest_where
from thermsim.studies.chill.inlets import Bench, Course, fed
from thermsim.studies.decide.roles import BASE, same_box
from thermsim.studies.run import run
from thermsim.studies.workers import Piece

Facts = dict[str, Any]
RESOLVED = 3.0  # uncertainties: a drop below is lost in them; common practice, no source
ROUND_TO = 0.5  # K, as a chiller can be set
CONDITIONS = ("room", "run", "duty")
MINUTES = 5  # a trial's length is rounded up to these


def deciding_part(state: Facts) -> str | None:
    """The part nearest to its limit, or the hottest where none has one."""
    hottest = max(state["parts_degc"], key=lambda name: state["parts_degc"][name], default=None)
    return state["worst_part"] or hottest


def own_trials(case: Case, options: Mapping[str, Case], airway: str) -> dict[str, float]:
    """Options that do nothing but feed the airway air of another temperature, by name; the inlet, °C."""
    found = {}
    for name, one in options.items():
        inlet = one.spec.airway[airway].inlet if airway in one.spec.airway else None
        if name == (case.option or BASE) or one.mishaps or not isinstance(inlet, float):
            continue
        alike = all(getattr(one.spec, kind) == getattr(case.spec, kind) for kind in CONDITIONS)
        if alike and same_box(fed(case, airway, inlet).spec, one.spec):
            found[name] = inlet
    return found


def trial(
    bench: Bench, held: Case, airway: str, frozen: Course, driest: float | None, own: Mapping[str, float]
) -> Facts | None:
    """The highest inlet at which the deciding part's drop can be told, speeds frozen; None if none that stays dry can.

    `held`: the case without governors. `driest`: the coldest inlet that stays dry, °C; None if there is none. Without
    the room's humidity it is the coldest swept. `own`: inlets of the case's own such trials; one of them that is dry
    and can be told is taken in its place, the warmest.
    """
    room, unsure = held.spec.room.temperature, held.spec.decide.uncertainty
    base = frozen.states[int(abs(frozen.inlets - room).argmin())]
    part = deciding_part(base)
    if part is None or driest is None:
        return None
    seen = highest_where(frozen.inlets, [RESOLVED * unsure - (base["parts_degc"][part] - frozen.part(part))])
    if seen is None or seen < driest:
        return None
    fit = {name: inlet for name, inlet in own.items() if driest <= inlet <= seen}
    option = max(fit, key=lambda name: fit[name], default=None)
    inlet = fit[option] if option is not None else max(floor(seen / ROUND_TO) * ROUND_TO, driest)
    chilled = fed(held, airway, inlet)
    (state,) = bench.settle(chilled)
    warm = bench.once(Piece(f"warm-up {chilled.content()}", warm_up, (chilled,)))
    expected = {
        name: {"from_degc": degc, "to_degc": state["parts_degc"][name], "drop_k": degc - state["parts_degc"][name]}
        for name, degc in base["parts_degc"].items()
    }
    drop = expected[part]["drop_k"]
    return {
        "inlet_degc": inlet,
        "as_option": option,
        "room_degc": room,
        "airway": airway,
        "deciding_part": part,
        "minutes": MINUTES * ceil(warm["seconds"] / 60 / MINUTES),
        "settles_in_time": warm["settled"],
        "slowest_part": warm["slowest_part"],
        "speeds": base["speeds"],
        "expected": expected,
        "agrees_between_k": [drop - 2 * unsure, drop + 2 * unsure],
        "refuted_below_k": drop - 2 * unsure,
        "uncertainty_k": unsure,
        "never_below_degc": driest if held.spec.room.humidity is not None else None,
    }


def warm_up(case: Case) -> Facts:
    """How long a case takes from switch-on until its slowest part is steady, or its whole run where that is longer."""
    with TemporaryDirectory(prefix="thermsim-") as folder:
        told = run(case.with_changes({"run.frames": 2}), folder).summary["warm_up"]
    seconds = told.get("time_s")
    return {
        "seconds": case.spec.run.duration if seconds is None else seconds,
        "settled": seconds is not None,
        "slowest_part": told.get("slowest_part"),
    }


def trial_told(told: Facts, governors: list[str], driven: list[str]) -> Facts:
    """The trial in words: `reads`, what to read, and `text`, what to do and what to make of it."""
    part: str = told["deciding_part"]
    low, high = told["agrees_between_k"]
    held = " and ".join(f"{device} at {100 * told['speeds'][device]:.0f} %" for device in driven)
    how = "leave all speeds as they are"
    if governors:
        how = f"take {' and '.join(governors)} off and hold {held} of rated speed"
    after = f"{told['minutes']} min"
    if not told["settles_in_time"]:
        after += f", and on until {told['slowest_part']} no longer moves (it is not steady by then)"
    reads = ["inlet air", "room air and its humidity", *(f"part {name}" for name in _worth_reading(told))]
    as_option = "" if told["as_option"] is None else f", as in “{told['as_option']}”,"
    text = [
        f"Feed airway {told['airway']} with air of {told['inlet_degc']:.1f} °C{as_option} in place of the "
        f"room's {told['room_degc']:.1f} °C; {how}.",
        f"From switch-on run {after}, once with room air and once with the cold, in the same room, watts and state.",
        f"Read {', '.join(reads)}.",
        f"If {part} ends {low:.1f} to {high:.1f} K lower, air does what is calculated here "
        f"({told['expected'][part]['drop_k']:.1f} K); less than {told['refuted_below_k']:.1f} K refutes it: "
        "something other than this air sets its temperature; more, and this air does more than is calculated.",
        _stop(told),
    ]
    return told | {"reads": reads, "text": " ".join(text)}


def _stop(told: Facts) -> str:
    """When to break the trial off."""
    if told["never_below_degc"] is None:
        return "The room's humidity is not known: measure its dew point first, and stop if the inlet comes near it."
    return f"Stop if the inlet falls below {told['never_below_degc']:.1f} °C."


def _worth_reading(told: Facts) -> list[str]:
    """The deciding part, the part that answers least and the one that answers most."""
    drops = {name: one["drop_k"] for name, one in told["expected"].items()}
    least, most = min(drops, key=lambda name: drops[name]), max(drops, key=lambda name: drops[name])
    return list(dict.fromkeys([told["deciding_part"], most, least]))

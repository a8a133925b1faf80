"""The checklist in words: what the builder does, in order. Rules without a source are common practice, no source."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Any

from thermsim.bench.leak.answer import long
from thermsim.bench.leak.study import leak
from thermsim.bench.protocol.stands import Stand, read_at_rest
from thermsim.case.case import Case
from thermsim.case.schema import Spec
from thermsim.model.fill import coolant_volume
from thermsim.model.hydraulics import elements, read_path
from thermsim.studies.loop.filling import fill_facts
from thermsim.studies.words import plain
from thermsim.units import format_quantity

Facts = dict[str, Any]


def sections(case: Case, stands: Sequence[Stand], facts: Facts) -> list[Facts]:
    """Headings with their steps, each to be ticked off."""
    loops = [stand for stand in stands if stand.case.spec.loop]
    pipes = any(stand.case.spec.heat_pipe for stand in stands)
    found = [
        ("The bench", _bench(stands)),
        ("Probes", _probes()),
        ("The loop, before it stands near electronics", _loop(case, loops[-1]) if loops else []),
        ("Heat pipes", _pipes() if pipes else []),
        ("Each run", _run(case, stands, facts)),
        ("From one run to the next", _same(stands, facts)),
        ("After the last run", _after()),
    ]
    return [{"title": title, "steps": steps} for title, steps in found if steps]


def _bench(stands: Sequence[Stand]) -> list[str]:
    room = stands[0].case.spec.room
    return [
        "Before opening it or fixing a probe: unplugged, capacitors discharged, and measured to be.",
        f"Room within ±0.5 K from first run to last, near {room.temperature:.0f} °C. No draught, no sun, nobody "
        "beside it.",
        "Box as it will stand, 10 cm free all round, lid on, filter clean, every screw at its torque.",
        "One supply for all runs; volts measured at the box.",
    ]


def _probes() -> list[str]:
    return [
        "First, all probes side by side in one cup of stirred water: note what each reads.",
        "Probe each part where its limit holds, the board beside it in the middle of its longest side, within 1 mm "
        "(JESD51-8). Keep probes insulated from all that carries a voltage.",
        "Thin wire, 0.1 mm or so, its last 20 mm along the surface: thick wire chills small parts.",
        "A Pt100 at 1 mA warms itself: 5 mK bonded to metal, up to 2 K hanging in still air. Bond it.",
        "One where hands reach the hottest bare metal: 48 °C if held a minute or more, 60 °C if touched up to 10 s, "
        "at 25 °C room (IEC 62368-1 table 38, from memory).",
        "Three room probes at the height of the inlet, shielded from the box's warmth and from lamps.",
        "Then they stay where they are, in all runs; a moved probe costs its whole calibration error.",
    ]


def _loop(case: Case, stand: Stand) -> list[str]:
    spec = stand.case.spec
    volume = sum(coolant_volume(spec, one) for loop in spec.loop.values() for one in elements(read_path(loop.path)))
    return [
        "Leak test alone, electronics out: shield, goggles, relief valve. Fill slowly with dry air to 0.5 bar over the "
        "atmosphere at most, never over what its weakest element is rated for.",
        f"{_hold(case)} Let down before touching a joint. All once more, then `thermsim leak`.",
        f"Fill with {_coolants(spec)}: about {format_quantity(volume, 'volume')}. Note how much went in. "
        f"{_cushions(stand)}",
        "Electronics unpowered, bleed: pump slow, tank highest, tilt every plate, until the flow holds for 10 min.",
        "Run it 24 h, electronics still unpowered, dry tissue under every joint. Any spot: stop.",
        _dew(stand),
    ]


def _cushions(stand: Stand) -> str:
    """How much gas to leave over the coolant, and the pressure that this leads to."""
    told = []
    for name, loop in stand.case.spec.loop.items():
        cushion = fill_facts(stand.settled, name)["cushion"]
        gas = cushion["gas_ml"] or cushion.get("needed_ml")
        if loop.vented or gas is None:
            continue
        which = f" in loop {plain(name)}" if len(stand.case.spec.loop) > 1 else ""
        most = cushion.get("with_pump_pa")
        reached = "" if most is None else f" (hot and blocked it then reaches {most / 1e5:.2f} bar)"
        told.append(f"Leave {ceil(gas)} mL of gas{which}{reached}")
    return f"{'; '.join(told) or 'Leave room for it to grow'}: brim-full and sealed it bursts when it warms."


def _hold(case: Case) -> str:
    """Soak, what to write down, how long to hold, as `[leak]` has it."""
    write = "Soak 15 min, note pressure and the temperature of the loop's metal, hold {}, note both again."
    asked = case.spec.leak
    known = asked.volume and asked.volume_uncertainty and (asked.resolution or asked.gauge_uncertainty)
    if not known or asked.limit is None:
        return write.format("30 min (say volume, gauge and limit in [leak])")
    facts = leak(case.with_changes({f"leak.{key}": [] for key in ("logs", "first", "last", "after")}))
    hold = facts["hold_for_limit_s"]
    if hold is None:
        return "With the gauge and thermometer of [leak] its limit cannot be resolved: mend that first."
    return write.format(f"{long(hold)} or longer, for {facts['limit']['sccm']:.3g} cm³ a minute")


def _coolants(spec: Spec) -> str:
    return " and ".join(
        loop.coolant + (f", {100 * loop.fraction:.0f} % by {loop.fraction_by}" if loop.fraction else "")
        for loop in spec.loop.values()
    )


def _dew(stand: Stand) -> str:
    dew, margin = stand.settled.dew_point_degc, stand.case.spec.chill.dew_margin
    if dew is None:
        return f"Dew: measure the room's humidity; keep the coldest surface {margin:g} K above its dew point."
    room = stand.case.spec.room
    paths = [elements(read_path(loop.path)) for loop in stand.case.spec.loop.values()]
    coolant = read_at_rest(stand, [f"{one}.outlet" for path in paths for one in path])
    coldest = f"; the model's coldest coolant has {min(coolant.values()):.1f} °C" if coolant else ""
    return (
        f"Dew: nothing wetted below {dew + margin:.1f} °C (dew point {dew:.1f} °C at {room.temperature:.0f} °C and "
        f"{100 * (room.humidity or 0):.0f} %, {margin:g} K more){coldest}. Work it out anew on the day."
    )


def _pipes() -> list[str]:
    return [
        "Kink test, each pipe: dip one end into water of 60 to 70 °C beside an untouched twin. The far end lags, or "
        "there is a step along it: scrap. Never solder, drill, cut or torch a heat pipe.",
    ]


def _run(case: Case, stands: Sequence[Stand], facts: Facts) -> list[str]:
    plan = facts["plan"]
    minutes, soak = plan["run_s"] / 60, plan["soak_s"] / 60
    state = "every part in its working state" if not _states(case) else f"state “{case.spec.run.state}”"
    specs = [stand.case.spec for stand in stands]
    pump = " The pump starts with it: no flow, switch off." if any(spec.loop for spec in specs) else ""
    kinds = [name for name, some in (("fans", [s.fan for s in specs]), ("pump", [s.pump for s in specs])) if any(some)]
    movers = " and ".join(kinds)
    on, off = (f", {movers} on", f" Then {movers} off.") if movers else ("", "")
    return [
        "Know the switch. Over a limit, wet, hissing, smelling: off. Note the time: that is an answer.",
        f"Cold: watts off{on}, {soak:.0f} min (or overnight), until all channels agree with the room within 0.3 K."
        f"{off}",
        f"Read once a second, store the mean of every {plan['interval_s']:.0f} s. Switch on with the log's first "
        "reading (log started earlier? Note the time of switch-on: on_at), and note the state as an event."
        f"{pump}",
        f"{minutes:.0f} min, {state}, untouched. Not steady by {plan['criterion']}? Go on until it is: a drifting room "
        "makes it later.",
        "Background noise with the box off, before and after, at the same spot; write both down.",
    ]


def _states(case: Case) -> bool:
    return any(isinstance(part.watts, dict) for part in case.spec.part.values())


def _same(stands: Sequence[Stand], facts: Facts) -> list[str]:
    governed = [name for stand in stands for name in stand.case.spec.governor]
    found = [
        "The same: probes in place, watts and state, filter, lid, torque, place, supply, room.",
        "Only one thing changes. A joint made anew: same paste, screws crosswise to the same torque.",
    ]
    if not facts["plan"]["shuffled"]:
        found.append(
            f"Going back is a rebuild, so all runs of “{plain(facts['stands'][0])}” come first. Between two of them "
            "take one joint apart and make it again: that alone moves temperatures."
        )
    if governed:
        found.append("A governor moves the fans to hold its sensor: read their speed, not only that part.")
    return found


def _after() -> list[str]:
    return [
        "All probes in one cup again: one that moved by more than 0.2 K since the first cup is out.",
        "Logs beside the case file, as named below or in its [bench]; then `thermsim bench CASE`, `thermsim fit CASE`.",
    ]

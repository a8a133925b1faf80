"""What of a loop's book its builder must not overlook, in sentences, the gravest first."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import Any

from thermsim.studies.limits.entry import FREEZING, Limit, limit
from thermsim.studies.limits.heat import boiling
from thermsim.studies.limits.passages import transition

Facts = dict[str, Any]
NEAR_DEAD_HEAD = 0.95  # of it, where a little more resistance stops most of the flow; common practice, no source
FREEZING_MARGIN = 5.0  # K; common practice, no source
TOO_SHORT_YEARS = 1.0
FITTINGS_HOLD_FROM = 1000  # loss coefficients are of turbulent flow
FITTINGS_MATTER = 0.1  # of the head
RICH = 0.6  # fraction of glycol, above which property data end and pumps labour


def findings(book: Facts) -> list[str]:
    """All of them."""
    return [*_pump(book), *_pressure(book), *book["materials"]["findings"], *_branches(book),
            *_flow(book), *_level(book), *_pump_heat(book)]  # fmt: skip


def limits_of(book: Facts) -> Iterator[Limit]:
    """Where a loop's coolant freezes, boils or flows in transition, so that the model no longer follows."""
    fill, loop = book["fill"], book["loop"]
    cold, freezing = fill["coldest_degc"], fill["freezing_degc"]
    if cold < freezing + FREEZING_MARGIN:
        yield limit(
            FREEZING, [f"loop.{loop}"],
            f"{fill['coolant']} freezes at {freezing:.1f} °C and is to get as cold as {cold:.1f} °C; keep "
            f"{FREEZING_MARGIN:g} K, by more glycol or a warmer place",
            freezing + FREEZING_MARGIN - cold, freezing_degc=freezing, coldest_degc=cold,
        )  # fmt: skip
    yield from boiling({loop: fill["hottest_degc"]})
    rows = [row for row in book["elements"] if row["regime"] is not None]
    yield from transition({row["element"]: (row["reynolds"], row["laminar_f_re"]) for row in rows})


def _pressure(book: Facts) -> Iterator[str]:
    cushion, loop = book["fill"]["cushion"], book["loop"]
    if cushion["growth_ml"] is None:
        return
    grown = f"{cushion['growth_ml']:.1f} mL up to {book['fill']['hottest_degc']:.0f} °C"
    gas, needed, tanks = cushion["gas_ml"], cushion["needed_ml"], " or ".join(cushion["tanks"])
    if cushion["vented"]:
        if gas is not None and gas < cushion["growth_ml"]:
            yield f"loop {loop}: the coolant grows by {grown} and the tank has {gas:.1f} mL over it: it spills"
        return
    if gas is None:
        where = f"no gas is stated over the coolant of {tanks}" if tanks else "it has no reservoir with gas in it"
        yield f"loop {loop}: {where}. {_sealed(cushion, grown)}"
        return
    if cushion["hot_pa"] is None:
        yield (
            f"loop {loop}: the coolant grows by {grown}, more than the {gas:.1f} mL of gas: then it is full of liquid "
            "and bursts"
        )
        return
    if cushion["rating_pa"] is not None and cushion["with_pump_pa"] > cushion["rating_pa"]:
        least = "no cushion helps" if needed is None else f"{ceil(needed)} mL of gas would do"
        yield (
            f"loop {loop}: {cushion['hot_pa'] / 1e3:.0f} kPa of its gas when hot and "
            f"{cushion['dead_head_pa'] / 1e3:.0f} kPa of a blocked pump are more than "
            f"the {cushion['rating_pa'] / 1e3:.0f} kPa it is rated for; {least}"
        )


def _sealed(cushion: Facts, grown: str) -> str:
    """What becomes of a loop that is sealed and full, and the gas that keeps it from that."""
    rise, needed = cushion["liquid_full_rise_pa"], cushion["needed_ml"]
    if rise <= cushion["allowed_pa"]:
        told = "Sealed and full, a few kelvin burst it; leave gas over the coolant"
    else:
        told = f"Sealed and full, the coolant would grow by {grown} and reach {rise / 1e5:.0f} bar if nothing gave: "
        told += "it bursts"
        told += "" if needed is None else f"; leave {ceil(needed)} mL of gas, or more"
    return (
        told if cushion["hottest_stated"] else f"{told}; state `hottest`, in store and on the road, to size it for that"
    )


def _branches(book: Facts) -> Iterator[str]:
    for split in book["branches"]:
        for way in split["ways"]:
            if way["starved"]:
                yield (
                    f"the branch of {way['elements'][0]} gets {100 * way['share_of_flow']:.0f} % of the flow for "
                    f"{100 * way['share_of_heat']:.0f} % of the heat"
                )


def _pump(book: Facts) -> Iterator[str]:
    pump = book["pump"]
    if pump["flow_l_per_min"] <= 0:
        yield f"loop {book['loop']}: nothing flows; its plates and blocks stand in stagnant coolant"
        return
    if pump["stated_flow"] and pump["pressure_pa"] > pump["could_give_pa"]:
        yield (
            f"loop {book['loop']}: the flow is stated, and {pump['pump']} cannot give it: the loop takes "
            f"{pump['pressure_pa'] / 1e3:.1f} kPa there, the pump has {max(pump['could_give_pa'], 0) / 1e3:.1f}"
        )
    if not pump["stated_flow"] and (pump["share_of_dead_head"] or 0) > NEAR_DEAD_HEAD:
        yield f"{pump['pump']} works at {100 * pump['share_of_dead_head']:.0f} % of its dead head: it hardly moves"


def _pump_heat(book: Facts) -> Iterator[str]:
    """All that a pump draws ends in the coolant, and that is more than it gives to the stream."""
    pump = book["pump"]
    given, drawn = pump["hydraulic_w"], pump["heat_w"]
    if given > drawn and not pump["stated_flow"]:
        yield (
            f"{pump['pump']} gives {given:.2g} W to the stream and is stated to draw {drawn:.2g}: state its heat, "
            "which is more"
        )


def _flow(book: Facts) -> Iterator[str]:
    slow = [row for row in book["elements"] if 0 < (row["reynolds"] or 0) < FITTINGS_HOLD_FROM and row["fittings_pa"]]
    if sum(row["fittings_pa"] for row in slow) > FITTINGS_MATTER * book["pump"]["pressure_pa"]:
        where = ", ".join(row["element"] for row in slow)
        yield f"{where}: below Reynolds number {FITTINGS_HOLD_FROM} bends and fittings lose more than told"


def _level(book: Facts) -> Iterator[str]:
    level = book["fill"]["level"]
    if level is None:
        return
    if level["reserve_ml"] <= 0:
        yield f"loop {book['loop']}: hoses lose {level['ml_per_month']:.1f} mL a month and no reservoir makes it good"
    elif level["years"] < TOO_SHORT_YEARS:
        yield f"loop {book['loop']}: the reserve is gone through the hoses in {level['days']:.0f} days"
    elif level["fraction_then"] > RICH:
        yield f"loop {book['loop']}: topped up late, the coolant is {100 * level['fraction_then']:.0f} % glycol"

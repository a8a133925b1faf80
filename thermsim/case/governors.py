"""Governors and mishaps: laws complete, speeds in order, nothing driven twice."""

from collections.abc import Iterator
from itertools import pairwise

from thermsim import units
from thermsim.case.errors import Finding, KeyPath
from thermsim.case.running import Governor
from thermsim.case.schema import Spec
from thermsim.case.stating import given, missing

LAW_NEEDS = {
    "hold": ("set_point", "gain", "reset"), "curve": ("curve",), "switch": ("on_above", "off_below"),
}  # fmt: skip


def check_governors(spec: Spec) -> Iterator[Finding]:
    """All checks of this module."""
    driven: dict[str, str] = {}
    for name, governor in spec.governor.items():
        at: KeyPath = ("governor", name)
        for number, address in enumerate(governor.drives):
            if address in driven:
                yield (*at, "drives", number), f"{address} is driven by governor.{driven[address]} already"
            driven[address] = name
        yield from _law(governor, at)
        yield from _speeds(governor, at)
    for name, mishap in spec.mishap.items():
        if mishap.ends is not None and mishap.ends <= mishap.at:
            yield ("mishap", name, "ends"), "is not after its beginning"
        if not given(mishap, ("stops", "blocks", "airlock", "coolant_lost", "room_rise")):
            yield ("mishap", name), "nothing happens: give stops, blocks, airlock, coolant_lost or room_rise"


def _law(governor: Governor, at: KeyPath) -> Iterator[Finding]:
    if not governor.drives:
        yield (*at, "drives"), "drives nothing"
    for law, keys in LAW_NEEDS.items():
        for key in keys:
            value = getattr(governor, key)
            if law == governor.law and value is None:
                yield missing(at, key, f'law "{law}" needs it')
            if law != governor.law and value is not None:
                yield (*at, key), f'law "{governor.law}" does not use it'
    on, off = governor.on_above, governor.off_below
    if on is not None and off is not None and off >= on:
        yield (*at, "off_below"), f"is not below on_above, {units.format_quantity(on, 'temperature')}"
    if governor.curve is not None:
        if len(governor.curve) < 2:
            yield (*at, "curve"), "needs at least two points"
        if any(later[0] <= earlier[0] for earlier, later in pairwise(governor.curve)):
            yield (*at, "curve"), "temperatures must rise from point to point"


def _speeds(governor: Governor, at: KeyPath) -> Iterator[Finding]:
    low, high = governor.min_speed, governor.max_speed
    if low > high:
        yield (*at, "min_speed"), f"is above max_speed, {units.format_quantity(high, 'fraction')}"
    elif governor.start is not None and not low <= governor.start <= high:
        limits = f"{units.format_quantity(low, 'fraction')} to {units.format_quantity(high, 'fraction')}"
        yield (*at, "start"), f"is outside min_speed to max_speed, {limits}"

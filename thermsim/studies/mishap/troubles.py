"""What can go wrong with a case: the mishaps of its file that concern it, and the customary ones (common practice)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError, Problem, nearest
from thermsim.case.running import Mishap
from thermsim.case.schema import Spec
from thermsim.case.stating import given
from thermsim.model.hydraulics import Branches, elements, read_path

CLOGGED = 4.0  # times the resistance; common practice, no source
WARMER_K = (8.0, 12.0)  # of the room; common practice, no source
LOST = 0.3  # of the coolant; common practice, no source
EFFECTS = ("stops", "blocks", "airlock", "coolant_lost", "room_rise")


@dataclass(frozen=True)
class Trouble:
    """A mishap by name: in words, of which kind, its table as a case file has it, and when duties are held, s."""

    name: str
    text: str
    what: str
    table: dict[str, Any]
    at: float | None = None

    @classmethod
    def of_file(cls, name: str, mishap: Mishap) -> Trouble:
        """One that the case file has; it lasts as long as it says there."""
        table: dict[str, Any] = {}
        if mishap.stops:
            table["stops"] = list(mishap.stops)
        if mishap.airlock:
            table["airlock"] = list(mishap.airlock)
        if mishap.blocks:
            table["blocks"] = dict(mishap.blocks)
        if mishap.coolant_lost:
            table["coolant_lost"] = {loop: f"{100 * share:.9g} %" for loop, share in mishap.coolant_lost.items()}
        if mishap.room_rise is not None:
            table["room_rise"] = f"{mishap.room_rise:.9g} K"
        text = "; ".join(_in_words(mishap))
        if mishap.ends is not None:
            table["ends"] = f"{mishap.ends - mishap.at:.9g} s"
            text += f", for {(mishap.ends - mishap.at) / 60:.3g} min"
        return cls(name, text, _kind(mishap), table, mishap.at)


def troubles(case: Case) -> dict[str, Trouble]:
    """All that can befall a case, by name. A customary mishap that the file has already is told as the file's."""
    spec = case.spec
    found = {
        name: Trouble.of_file(name, mishap)
        for name, mishap in spec.mishap.items()
        if name not in case.mishaps and _concerns(spec, mishap)
    }
    told = [_effect(spec.mishap[name]) for name in found if spec.mishap[name].ends is None]
    for one in _customary(spec):
        if _effect(Mishap.model_validate({"at": "0 s", **one.table})) not in told:
            found.setdefault(one.name, one)
    return found


def chosen(cases: Mapping[str, Case], names: Sequence[str]) -> dict[str, dict[str, Trouble]]:
    """Mishaps by option: all, or those named. Raises `CaseError` for a name that no option knows."""
    known = {option: troubles(case) for option, case in cases.items()}
    every = list(dict.fromkeys(name for found in known.values() for name in found))
    unknown = [name for name in names if name not in every]
    if unknown:
        what = f'no mishap "{unknown[0]}" concerns what is looked at'
        hint = nearest(unknown[0], every) or f"; there are {', '.join(every)}"
        raise CaseError([Problem("--mishap", None, "", what + hint)])
    return {
        option: {name: one for name, one in found.items() if not names or name in names}
        for option, found in known.items()
    }


def _customary(spec: Spec) -> Iterator[Trouble]:
    for device in [*_pumps(spec), *_fans(spec)]:
        kind = device.split(".")[0]
        yield Trouble(f"{device} stops", f"{device} stops", f"{kind} stops", {"stops": [device]})
    for name, way in spec.airway.items():
        if way.flow is None and any(fan in _fans(spec) for fan in way.fans):
            what = "filter" if way.filter else "whole resistance"
            text = f"{what} of airway {name} ×{CLOGGED:g}"
            yield Trouble(f"airway.{name} blocked", text, "filter blocked", {"blocks": {name: CLOGGED}})
    for name, loop in spec.loop.items():
        for item in read_path(loop.path):
            if isinstance(item, Branches) and loop.pump in _pumps(spec):
                for branch in (elements(one)[0] for one in item.ways):
                    text = f"branch of {branch} in loop {name} airlocked"
                    yield Trouble(f"{branch} airlocked", text, "branch airlocked", {"airlock": [branch]})
    for rise in WARMER_K:
        yield Trouble(f"room +{rise:g} K", f"room {rise:g} K warmer", "room hot", {"room_rise": f"{rise:g} K"})
    for name in spec.loop:
        lost = f"{100 * LOST:g} %"
        text = f"{lost} of the coolant of loop {name} gone"
        yield Trouble(f"loop.{name} low", text, "coolant low", {"coolant_lost": {name: lost}})


def _pumps(spec: Spec) -> list[str]:
    """Pumps that run in a loop."""
    used = [loop.pump for loop in spec.loop.values() if loop.flow != 0]
    return [pump for pump in used if _runs(spec, pump)]


def _fans(spec: Spec) -> list[str]:
    """Fans that run in an airway."""
    used = dict.fromkeys(fan for way in spec.airway.values() for fan in way.fans)
    return [fan for fan in used if _runs(spec, fan)]


def _runs(spec: Spec, device: str) -> bool:
    """Whether a fan or pump is on, or a governor may put it on."""
    kind, name = device.split(".", 1)
    governed = [table for table in spec.governor.values() if device in table.drives]
    return any(table.max_speed > 0 for table in governed) if governed else getattr(spec, kind)[name].speed > 0


def _concerns(spec: Spec, mishap: Mishap) -> bool:
    """Whether a mishap is about things that are there, and changes anything."""
    airways, loops = {f"airway.{name}" for name in mishap.blocks}, {f"loop.{name}" for name in mishap.coolant_lost}
    addresses = {*mishap.stops, *mishap.airlock, *airways, *loops}
    there = all(name in getattr(spec, kind) for kind, name in (address.split(".", 1) for address in addresses))
    if not there:
        return False
    return bool(set(mishap.stops) & {*_pumps(spec), *_fans(spec)} or not mishap.stops)


def _effect(mishap: Mishap) -> tuple[Any, ...]:
    return tuple(getattr(mishap, key) for key in EFFECTS)


def _kind(mishap: Mishap) -> str:
    """The kind of a mishap that does one thing; else "mixed"."""
    stops = {address.split(".")[0] for address in mishap.stops}
    kinds = [f"{kind} stops" for kind in sorted(stops)]
    words = {"blocks": "filter blocked", "airlock": "branch airlocked", "coolant_lost": "coolant low",
             "room_rise": "room hot"}  # fmt: skip
    kinds += [words[key] for key in EFFECTS[1:] if given(mishap, (key,))]
    return kinds[0] if len(kinds) == 1 else "mixed"


def _in_words(mishap: Mishap) -> Iterator[str]:
    if mishap.stops:
        yield f"{' and '.join(mishap.stops)} stop{'s' if len(mishap.stops) == 1 else ''}"
    for airway, factor in mishap.blocks.items():
        yield f"resistance of airway {airway} ×{factor:g}"
    if mishap.airlock:
        yield f"{' and '.join(mishap.airlock)} airlocked"
    for loop, share in mishap.coolant_lost.items():
        yield f"{100 * share:g} % of the coolant of loop {loop} gone"
    if mishap.room_rise is not None:
        yield f"room {mishap.room_rise:g} K warmer"

"""Noise where it is heard: each source and all together, against the room, in octaves, as tones, and over time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermsim.case.duties import must_have_limits
from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats
from thermsim.model.system import Model
from thermsim.physics.acoustics import HEARD_FROM, OCTAVES_HZ, above, blade_tone, is_heard, level_sum, octave_of
from thermsim.solve.noise import noise_known, noise_levels, source_bands, source_levels, unstated
from thermsim.studies.finished import Finished

Table = dict[str, Any]
RULE = f"heard from {HEARD_FROM:g} dB below the room on, which then grows 1 dB louder; common practice, no source"


def noise_told(done: Finished) -> Table:
    """Noise at the louder of the steady states, and over the run.

    Levels are None where fans or pumps run and no noise was stated.
    """
    model = done.model
    louder = max(
        (dict(steady.inputs.controls.speeds) for steady in done.steadies), key=lambda s: noise_levels(model, s)
    )
    told = heard(model, louder)
    sources, with_room = done.curve("noise", "sources"), done.curve("noise", "with room")
    known = told["sources_dba"] is not None
    told["loudest_dba"] = float(sources.max()) if known else None
    times = done.record.curve_times[: sources.size]
    told["over_time"] = _over_time(model.case.spec, times, sources, with_room) if known else None
    return told


def heard(model: Model, speeds: Mapping[str, float]) -> Table:
    """What fans and pumps at their speeds (relative to rated, by address) are heard as, and whether at all."""
    room, known = model.case.spec.room, noise_known(model)
    each = source_levels(model, speeds)
    source, total = noise_levels(model, speeds)
    floor = room.noise_floor
    told: Table = {
        "sources_dba": source if known else None,
        "with_room_dba": total if known else None,
        "room_dba": floor,
        "each_dba": each,
        "without": unstated(model.case.spec),
        "listener_m": room.listener,
        "raises_room_by_db": None,
        "heard": None,
        "rule": RULE,
        "tones": _tones(model, speeds),
        "bands": _bands(model, speeds),
    }
    if known and floor is not None:
        told["raises_room_by_db"] = above(source, floor) if each else 0.0
        told["heard"] = bool(each) and is_heard(source, floor)
        if told["without"] and not told["heard"]:
            told["heard"] = None  # what is left out may be
    return told


def _tones(model: Model, speeds: Mapping[str, float]) -> Table:
    """Blade tone of each running fan, and whether its octave stands out from the room's."""
    spec, bands = model.case.spec, source_bands(model, speeds)
    room = spec.room.noise_bands
    told: Table = {}
    for name, fan in spec.fan.items():
        address = f"fan.{name}"
        if fan.blades is None or fan.rated_speed is None or not speeds[address] > 0 or not fan.heard:
            continue
        tone = blade_tone(fan.blades, 60 * fan.rated_speed * speeds[address])
        number = octave_of(tone)
        told[address] = {"hz": tone, "octave_hz": None, "over_room_db": None, "heard": None, "missing": []}
        if number is None:
            continue
        told[address]["octave_hz"] = OCTAVES_HZ[number]
        if room is None or address not in bands:
            lacking = {address: address not in bands, "room": room is None}
            told[address]["missing"] = [f"{where}.noise_bands" for where, lacks in lacking.items() if lacks]
        else:
            told[address]["over_room_db"] = bands[address][number] - room[number]
            told[address]["heard"] = is_heard(bands[address][number], room[number])
    return told


def _bands(model: Model, speeds: Mapping[str, float]) -> Table | None:
    """Octave bands of all sources that have them together, and which are heard; None where no source has."""
    bands, room = source_bands(model, speeds), model.case.spec.room.noise_bands
    if not bands:
        return None
    together = [level_sum(levels) for levels in zip(*bands.values(), strict=True)]
    return {
        "octaves_hz": list(OCTAVES_HZ),
        "sources_db": together,
        "room_db": None if room is None else list(room),
        "heard": None if room is None else [is_heard(one, other) for one, other in zip(together, room, strict=True)],
        "without_bands": [address for address in source_levels(model, speeds) if address not in bands],
    }


def _over_time(spec: Spec, times: Floats, sources: Floats, with_room: Floats) -> Table:
    """The loudest moment, and for how much of the run it is louder than it must be, and heard at all."""
    at_most = quiet_limit(spec)
    floor = spec.room.noise_floor
    loudest = int(with_room.argmax())
    return {
        "loudest_dba": float(with_room[loudest]),
        "loudest_at_s": float(times[loudest]),
        "must_have_dba": at_most,
        "share_above_must_have": None if at_most is None else share_above(times, with_room, at_most),
        "share_heard": None if floor is None else share_above(times, sources, floor - HEARD_FROM),
    }


def quiet_limit(spec: Spec) -> float | None:
    """The strictest must-have on noise, dB(A)."""
    limits = [must_have_limits(must)[0] for must in spec.must_have.values() if must.of == "noise"]
    return min((limit for limit in limits if limit is not None), default=None)


def share_above(times: Floats, values: Floats, limit: float) -> float:
    """Share of the time for which a curve, straight between its samples, is above a limit; shapes (n,)."""
    spans = np.diff(times)
    if not spans.sum() > 0:
        return float(values[0] > limit)
    low, high = np.minimum(values[:-1], values[1:]), np.maximum(values[:-1], values[1:])
    rise = high - low
    share = np.where(rise > 0, (high - limit) / np.where(rise > 0, rise, 1.0), low > limit)
    return float(np.clip(share, 0.0, 1.0) @ spans / spans.sum())

"""Probes that fell off: a step towards the room that the others do not make, and no way back."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from thermsim.model.arrays import Floats

WITHIN = 60.0  # s in which a loose probe has gone most of its way, or four readings
LEAST = 4.0  # K
SHARE = 0.5  # of its rise over the room that it loses
OTHERS = 0.2  # of that, which the others lose at most


def fallen(time: Floats, temperatures: Mapping[str, Floats], room: Floats | None) -> dict[str, int]:
    """First reading behind the fall, by channel, of probes that look as if they fell off.

    Judged on means of a step of a minute or four readings, so that noise tells nothing.
    """
    if time.size < 16 or len(temperatures) < 3:
        return {}
    usual = float(np.median(np.diff(time)))
    length = max(4, round(WITHIN / usual)) if usual else 4
    blocks = time.size // length
    if blocks < 4:
        return {}
    levels = {name: _levels(values, length, blocks) for name, values in temperatures.items()}
    ground = _levels(room, length, blocks) if room is not None else np.min(list(levels.values()), axis=0)
    drops = {name: level[:-2] - level[2:] for name, level in levels.items()}
    every = np.array(list(drops.values()))
    known = np.isfinite(every).any(axis=0)
    typical = np.full(blocks - 2, np.nan)
    typical[known] = np.nanmedian(every[:, known], axis=0)
    found = {}
    for name, drop in drops.items():
        rise = levels[name][:-2] - ground[:-2]
        with np.errstate(invalid="ignore"):
            fell = (drop > LEAST) & (drop > SHARE * rise) & (rise > 0) & (typical < OTHERS * drop)
        at = np.flatnonzero(fell)
        if at.size and _stays(levels[name], int(at[0])):
            found[name] = (int(at[0]) + 1) * length
    return found


def _levels(values: Floats, length: int, blocks: int) -> Floats:
    """Medians of blocks of readings, NaN where one is missing."""
    return np.asarray(np.median(values[: blocks * length].reshape(blocks, length), axis=1))


def _stays(level: Floats, at: int) -> bool:
    """Whether it never comes back to half of what it lost."""
    half = (level[at] + level[at + 2]) / 2
    later = level[at + 2 :]
    return bool((later[np.isfinite(later)] < half).all())

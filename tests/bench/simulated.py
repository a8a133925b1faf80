"""Logs of a box that is known: rises by two exponentials, a room, and noise of a given kind; many channels in one."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import numpy as np

from thermsim.bench.logs.log import Log
from thermsim.model.arrays import Floats

Noise = Literal["white", "wandering"]
QUICK, SLOW, SHARE = 60.0, 550.0, 0.65  # s, s, of the slow one
PROBE = 0.05  # K


def simulated(
    rng: np.random.Generator,
    ends: Floats,
    minutes: float,
    noise: Noise = "white",
    drifts: bool = False,
    step: float = 10.0,
    name: str = "run",
) -> Log:
    """One run of as many parts as there are end values; `drifts`: the room wanders, and parts follow it late."""
    time = np.arange(0.0, 60.0 * minutes + step / 2, step)
    curve = 1.0 - (1.0 - SHARE) * np.exp(-time / QUICK) - SHARE * np.exp(-time / SLOW)
    rises = np.outer(ends, curve) + _noise(rng, (ends.size, time.size), noise, step)
    room = np.full(time.size, 22.0)
    if drifts:
        wander = np.cumsum(rng.normal(0.0, 0.1 * np.sqrt(step / 3600.0), time.size))
        room = room + rng.uniform(-0.5, 0.5) * time / 3600.0 + wander - wander[0]
    late = 0.5 * (_followed(room, step, QUICK) + _followed(room, step, SLOW))
    readings = {f"part.p{k}": late + rise for k, rise in enumerate(rises)}
    readings["room"] = room + rng.normal(0.0, PROBE / 3, time.size)
    return Log(name, Path(f"{name}.csv"), time, readings, {}, None)


def _noise(rng: np.random.Generator, shape: tuple[int, int], kind: Noise, step: float) -> Floats:
    fresh = rng.normal(0.0, PROBE, shape)
    if kind == "white":
        return fresh
    kept = np.exp(-step / 60.0)  # first order, of a minute
    found = fresh.copy()
    for k in range(1, shape[1]):
        found[:, k] = kept * found[:, k - 1] + np.sqrt(1.0 - kept**2) * fresh[:, k]
    return found


def _followed(room: Floats, step: float, tau: float) -> Floats:
    found, share = room.copy(), -np.expm1(-step / tau)
    for k in range(1, room.size):
        found[k] = found[k - 1] + share * (room[k - 1] - found[k - 1])
    return found

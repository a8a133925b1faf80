"""Checkpoints inside an unfinished result, so that a run that was killed goes on to the same answer.

Two slots are written in turn, each with its number last: a kill while one is being written leaves the other. Each
tells the digest of what it holds: one damaged in another way, as by a power cut, is passed over too.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.solve.governors import GovernorState
from thermsim.solve.record import Tally
from thermsim.solve.transient import Standing

GROUP = "checkpoint"
SLOTS = ("a", "b")


@dataclass(frozen=True)
class Checkpoint:
    """Where a history stood, and the record's tally then."""

    standing: Standing
    tally: Tally


def save(file: Any, number: int, checkpoint: Checkpoint) -> None:
    """Write checkpoint `number` (counted from 1) into its slot."""
    group = file.require_group(GROUP)
    slot = SLOTS[number % 2]
    standing = checkpoint.standing
    if slot not in group:
        group.create_dataset(slot, data=standing.x)
        group[slot].attrs["number"] = 0
    data = group[slot]
    data.attrs["number"] = 0  # not valid while it is being written
    file.flush()
    data[:] = standing.x
    state = json.dumps(
        {
            "time": standing.time,
            "rung": standing.rung,
            "governors": [asdict(governor) for governor in standing.governors],
            "tally": asdict(checkpoint.tally),
        }
    )
    data.attrs["state"] = state
    data.attrs["digest"] = _digest(standing.x, state)
    file.flush()
    data.attrs["number"] = number
    file.flush()


def load(file: Any) -> tuple[int, Checkpoint] | None:
    """The latest whole checkpoint and its number; None if there is none."""
    slots = [data for data in file.get(GROUP, {}).values() if data.attrs.get("number", 0) > 0 and _is_whole(data)]
    if not slots:
        return None
    data = max(slots, key=lambda slot: int(slot.attrs["number"]))
    state = json.loads(data.attrs["state"])
    temperature: Floats = np.asarray(data[:], dtype=float)
    governors = tuple(GovernorState(**governor) for governor in state["governors"])
    standing = Standing(state["time"], temperature, governors, state["rung"])
    return int(data.attrs["number"]), Checkpoint(standing, Tally(**state["tally"]))


def _is_whole(data: Any) -> bool:
    return bool(data.attrs["digest"] == _digest(np.asarray(data[:], dtype=float), data.attrs["state"]))


def _digest(temperature: Floats, state: str) -> str:
    return hashlib.sha256(np.ascontiguousarray(temperature, dtype=float).tobytes() + state.encode()).hexdigest()

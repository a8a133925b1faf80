"""Are these runs of one thing: same state, same length, a room that stood still, the same columns?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from thermsim.bench.paired.record import Record

DRIFT = 0.5  # K either way that a room may move; common practice, no source
ROOMS_APART = 2.0  # K between the rooms of two stands; common practice, no source
LENGTHS_APART = 1.25  # ratio; common practice, no source
HELD = ("part", "probe")


def doubts(before: Sequence[Record], after: Sequence[Record]) -> list[str]:
    """What makes the runs less comparable than they should be, in words."""
    every = [*before, *after]
    return [
        *_room(before, after),
        *_lengths(every),
        *_states(every),
        *_columns(before, after),
    ]


def _room(before: Sequence[Record], after: Sequence[Record]) -> list[str]:
    every, found = [*before, *after], []
    unlogged = [record.name for record in every if record.room is None]
    if unlogged:
        found.append(f"no room temperature in {_names(unlogged)}: temperatures are compared as they are, rooms and all")
    drifted = [(record.name, record.room_drift) for record in every if record.room_drift is not None]
    for name, drift in drifted:
        if drift > DRIFT:
            found.append(f"the room moved by ±{drift:.1f} K in {name}, more than ±{DRIFT:g} K: the box follows it late")
    means = [[record.room_degc for record in stand if record.room_degc is not None] for stand in (before, after)]
    if all(means):
        apart = float(np.mean(means[1]) - np.mean(means[0]))
        if abs(apart) > ROOMS_APART:
            found.append(
                f"the room was {abs(apart):.1f} K {'warmer' if apart > 0 else 'colder'} after than before: rises are "
                "compared, but air properties, radiation and governors answer to the room itself"
            )
    return found


def _lengths(every: Sequence[Record]) -> list[str]:
    spans = [record.span - record.since for record in every]
    if max(spans) <= LENGTHS_APART * min(spans):
        return []
    return [
        f"runs are of unlike length, {min(spans) / 60:.0f} to {max(spans) / 60:.0f} min: "
        "shorter ones lean more on their curves"
    ]


def _states(every: Sequence[Record]) -> list[str]:
    last = {record.name: record.state for record in every if record.state is not None}
    found = []
    if len(set(last.values())) > 1:
        told = ", ".join(f'{name} "{state}"' for name, state in last.items())
        found.append(f"runs end in unlike states, so the change is not that of the cooling alone: {told}")
    changed = [record.name for record in every if record.since > 0]
    if changed:
        found.append(f"the state changed in {_names(changed)}: told from the last change on")
    return found


def _columns(before: Sequence[Record], after: Sequence[Record]) -> list[str]:
    held = [{name for record in stand for name in record.channels} for stand in (before, after)]
    found = []
    for names, when in ((held[0] - held[1], "before"), (held[1] - held[0], "after")):
        some = sorted(name for name in names if name.split(".")[0] in HELD)
        if some:
            found.append(f"logged {when} only, so not compared: {_names(some)}")
    for record in (*before, *after):
        silent = [name for name in sorted(held[0] & held[1]) if record.end(name) is None]
        if silent:
            found.append(f"{record.name} tells no end of {_names(silent)}: compared without it")
    return found


def _names(names: Sequence[str], most: int = 6) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more

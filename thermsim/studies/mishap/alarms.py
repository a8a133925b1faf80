"""When an alarm would ring after a mishap, and how long before the first limit is passed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Any

from thermsim.case.running import Mishap
from thermsim.case.schema import Spec
from thermsim.model.fill import fills
from thermsim.model.hydraulics import elements, read_path
from thermsim.studies.mishap.history import History, Reading

Facts = dict[str, Any]
THRESHOLDS_K = (3.0, 5.0, 10.0)  # over the settled reading; common practice, no source
NAMED = {
    "part": "part {}",
    "probe": "probe {}",
    "plate": "mean of plate {}",
    "block": "block {}",
    "coolant": "coolant {}",
    "air": "air {}",
}


def alarms(history: History, mishap: Mishap, parts: Collection[str], first_over_s: float | None) -> list[Facts]:
    """Alarms on thermometers and switches, the earliest first, those that never ring last.

    `parts`: those that are worth a thermometer; besides, all probes, plates, blocks, coolant and air.
    """
    spec = history.model.case.spec
    found = [_alarm(name, None, 0.0, first_over_s, stands=False) for name in switches(spec, mishap)]
    for reading in history.readings:
        if reading.kind != "part" or reading.name in parts:
            found += [_thermometer(history, reading, rise, first_over_s) for rise in THRESHOLDS_K]
    return sorted(found, key=lambda alarm: (alarm["rings_s"] is None, alarm["rings_s"] or 0.0))


def _thermometer(history: History, reading: Reading, rise: float, first_over_s: float | None) -> Facts:
    settled = float(reading.values[0])
    rings = history.crossing(reading.values, settled + rise)
    return _alarm(NAMED[reading.kind].format(reading.name), (settled, rise), rings, first_over_s, reading.stands)


def _alarm(
    of: str, threshold: tuple[float, float] | None, rings: float | None, first_over_s: float | None, stands: bool
) -> Facts:
    return {
        "of": of,
        "rise_k": threshold[1] if threshold else None,
        "threshold_degc": sum(threshold) if threshold else None,
        "rings_s": rings,
        "stream_stands": stands,
        "lead_s": None if rings is None or first_over_s is None else first_over_s - rings,
    }


def switches(spec: Spec, mishap: Mishap) -> Iterator[str]:
    """What tells of a mishap at once, if it is fitted: tachometers and switches."""
    fill = fills(spec, [mishap])
    for device in mishap.stops:
        yield f"tachometer of {device}"
    for name, loop in spec.loop.items():
        if loop.pump in mishap.stops or fill[name].runs_dry:
            yield f"flow switch of loop {name}"
    for element in mishap.airlock:
        yield f"flow switch beside {element}"
    for airway in mishap.blocks:
        yield f"pressure switch across airway {airway}"
    for name in mishap.coolant_lost:
        tanks = [one for one in elements(read_path(spec.loop[name].path)) if one.startswith("reservoir.")]
        yield from (f"level switch of {tank}" for tank in tanks)
    if mishap.room_rise is not None:
        yield "thermometer in the room"


def best_alarm(told: Sequence[Facts]) -> Facts | None:
    """The thermometer that rings longest before the first limit at the middle threshold, else at any; None if none.

    Not one in a stream that stands: there the model's thermometer sits in the plate's or box's own mouth.
    """
    leading = [
        one
        for one in told
        if one["threshold_degc"] is not None and (one["lead_s"] or 0.0) > 0 and not one["stream_stands"]
    ]
    middle = [one for one in leading if one["rise_k"] == THRESHOLDS_K[1]]
    return max(middle or leading, key=lambda one: float(one["lead_s"]), default=None)

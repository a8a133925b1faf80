"""One test as it was held: absolute pressure and temperature over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermsim.case.leaking import Leak
from thermsim.model.arrays import Floats
from thermsim.physics.pressure_decay import COUNTED_AT_K, Reading
from thermsim.units import ZERO_CELSIUS_K

ENDS = 0.05  # of a log, over which its first and last reading are the mean


@dataclass(frozen=True)
class Held:
    """A test: times (s), absolute pressures (Pa) and temperatures (°C), shapes (n,); two readings or a log of many."""

    name: str
    time: Floats
    pressure: Floats
    degc: Floats
    soaked: float = 0.0  # s at the beginning that were left out
    settled: bool = True  # whether it fell evenly after that
    mended: tuple[str, ...] = ()  # what was dropped or mended in the log, and what looks wrong in it
    doubts: tuple[str, ...] = ()
    logged_air: bool = False  # the atmosphere was logged too

    @property
    def logged(self) -> bool:
        """Whether it is a log."""
        return self.time.size > 2

    @property
    def span(self) -> float:
        """How long it was held, s."""
        return float(self.time[-1] - self.time[0])

    @property
    def counted(self) -> Floats:
        """The pressure the same gas would have at 20 °C, Pa."""
        found: Floats = self.pressure * COUNTED_AT_K / (self.degc + ZERO_CELSIUS_K)
        return found

    @property
    def ends(self) -> tuple[Reading, Reading]:
        """First and last reading; of a log the means of its first and last twentieth."""
        first, last = (
            Reading(float(self.pressure[cut].mean()), float(self.degc[cut].mean())) for cut in self._end_cuts
        )
        return first, last

    @property
    def drop(self) -> float:
        """How far the reading fell in the whole time, Pa: its ends' difference, stretched from mean to mean."""
        first, last = (float(self.time[cut].mean()) for cut in self._end_cuts)
        return (self.ends[0].pressure - self.ends[1].pressure) * self.span / (last - first)

    @property
    def _end_cuts(self) -> tuple[slice, slice]:
        count = max(int(ENDS * self.time.size), 1)
        return slice(None, count), slice(-count, None)


def read_off(leak: Leak) -> list[Held]:
    """The tests that are two readings each."""
    return [
        Held(f"test {number}", np.array([0.0, after]), np.array([p1, p2]) + air_over_gauge(leak), np.array([t1, t2]))
        for number, ((p1, t1), (p2, t2), after) in enumerate(zip(leak.first, leak.last, leak.after, strict=True), 1)
    ]


def air_over_gauge(leak: Leak) -> Floats:
    """What makes readings absolute where a test began and ended, Pa, shape (2,)."""
    if not leak.gauge or leak.atmosphere is None:
        return np.zeros(2)
    after = leak.atmosphere if leak.atmosphere_after is None else leak.atmosphere_after
    return np.array([leak.atmosphere, after])

"""One run as it is judged: thinned, from its last change of state on, rises over its room, ends of all channels."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from thermsim.bench.logs.log import Log
from thermsim.bench.logs.stuck import resolution
from thermsim.bench.paired.ends import End, end_of
from thermsim.bench.paired.quantities import quantity_of, results
from thermsim.bench.rates import smooth
from thermsim.model.arrays import Floats
from thermsim.physics.acoustics import background_correction_k1

STEP = 10.0  # s, readings closer together are averaged
MOST = 720  # steps of one run
LAG_OVER = 300.0  # s, over which the room is smoothed for its drift
USUAL_LAG = 600.0  # s, by which a box follows its room, where nothing tells it; common practice, no source
SHORTEST = 60.0  # s


@dataclass(frozen=True)
class Record:
    """One run, its readings averaged over steps of at least ten seconds.

    `watts_ratio`: by which rises are multiplied, so that all are of the same watts; 1 where they are left as they are.
    `digits`: the least step of the readings before they were averaged, by channel, SI or K.
    """

    name: str
    stands: str
    option: str | None
    log: Log
    window: float
    watts_ratio: float = 1.0
    digits: Mapping[str, float] = field(default_factory=dict)
    _ends: dict[str, End | None] = field(default_factory=dict, repr=False, compare=False)

    @property
    def span(self) -> float:
        """From switch-on to the last reading, s."""
        return float(self.log.time[-1])

    @property
    def channels(self) -> list[str]:
        """What is compared and has any reading."""
        readings = self.log.readings
        return results(channel for channel in readings if np.isfinite(readings[channel]).any())

    @cached_property
    def since(self) -> float:
        """When the state that the run ends in began, s; 0 where it never changed."""
        changes = [time for time, _ in self.log.texts.get("state", ())[1:]]
        return max([0.0, *changes])

    @property
    def state(self) -> str | None:
        """The state that the run ends in; None where none was logged."""
        texts = self.log.texts.get("state")
        return texts[-1][1] if texts else None

    @cached_property
    def room(self) -> Floats | None:
        """Room temperature, °C, gaps filled straight; None where it was not logged."""
        found = self.log.readings.get("room")
        if found is None or not np.isfinite(found).any():
            return None
        there = np.isfinite(found)
        return np.asarray(np.interp(self.log.time, self.log.time[there], found[there]))

    @property
    def room_degc(self) -> float | None:
        """Mean room temperature over the last minutes, °C."""
        return None if self.room is None else self.mean_of("room")

    @property
    def room_probes(self) -> Floats | None:
        """Each room probe's mean over the last minutes, °C, shape (probes,); None where there are not several."""
        if self.log.room_probes is None:
            return None
        late = self.log.room_probes[:, self.log.time > self.span - self.window]
        there = np.isfinite(late)
        if not there.any(axis=1).all():
            return None
        found: Floats = np.where(there, late, 0.0).sum(axis=1) / there.sum(axis=1)
        return found

    @cached_property
    def room_drift(self) -> float | None:
        """Half of the range the room went through, K."""
        if self.room is None:
            return None
        even = smooth(self.log.time, self.room, LAG_OVER)
        return 0.5 * float(even.max() - even.min())

    def trace(self, channel: str) -> Floats:
        """Readings as they are told: rises over the room (temperatures where no room was logged), else SI; with NaN."""
        values = self.log.readings[channel]
        if quantity_of(channel).is_rise and self.room is not None:
            return self.watts_ratio * (values - self.room)
        return values

    def known(self, channel: str, since: float = 0.0) -> tuple[Floats, Floats]:
        """Times and told readings that are there, from a time on."""
        values = self.trace(channel)
        kept = np.isfinite(values) & (self.log.time >= since)
        return self.log.time[kept], values[kept]

    def mean_of(self, channel: str) -> float | None:
        """Mean reading over the last minutes, SI or °C."""
        if channel not in self.log.readings:
            return None
        late = self.log.readings[channel][self.log.time > self.span - self.window]
        late = late[np.isfinite(late)]
        return float(late.mean()) if late.size else None

    @property
    def watts(self) -> float | None:
        """Supply power over the last minutes, W: as logged, or volts times amps."""
        if "supply.watts" in self.log.readings:
            return self.mean_of("supply.watts")
        volts, amps = self.mean_of("supply.volts"), self.mean_of("supply.amps")
        return None if volts is None or amps is None else volts * amps

    def end(self, channel: str) -> End | None:
        """What a channel came to; None where its last minutes hold too few readings."""
        if channel not in self._ends:
            self._ends[channel] = self._end(channel)
        return self._ends[channel]

    def own_rise(self, channel: str) -> float | None:
        """The end of a temperature over the room as it was on the bench, not scaled to other watts, K."""
        end = self.end(channel)
        return None if end is None or self.room is None else end.value / self.watts_ratio

    def _end(self, channel: str) -> End | None:
        if channel not in self.log.readings:
            return None
        is_rise = quantity_of(channel).is_rise
        time, values = self.known(channel, self.since)
        if time.size and time[-1] < self.span - self.window:  # it fell silent
            return None
        found = end_of(time, values, self.window, curve=is_rise)
        if found is None:
            return None
        if channel == "noise":
            return self._without_background(found)
        return self._caught_up(found) if is_rise and self.room is not None else found

    def _caught_up(self, end: End) -> End:
        """With half of what a box that follows the room at its slowest is behind it: it may be all, or nothing."""
        half = 0.5 * self.watts_ratio * self._behind(end)
        return replace(end, value=end.value + half, last=end.last + half, late=half)

    def _behind(self, end: End) -> float:
        """By how much (K) what follows the room with the slowest time constant is behind it in the last minutes."""
        assert self.room is not None
        tau = USUAL_LAG
        if end.response is not None and end.response.time_constants and end.response.is_known:
            tau = end.response.time_constants[-1].value
        behind = self.room - followed(self.log.time, smooth(self.log.time, self.room, LAG_OVER), tau)
        return float(behind[self.log.time > self.span - self.window].mean())

    def _without_background(self, end: End) -> End:
        """Less the background by ISO 3744's K1, where that was logged."""
        floor = self.mean_of("noise.background")
        if floor is None:
            return end
        return replace(end, value=end.last - background_correction_k1(end.last - floor))


def followed(time: Floats, values: Floats, tau: float) -> Floats:
    """What follows a reading with a time constant, started at rest; shape (n,)."""
    shares, means = -np.expm1(-np.diff(time) / tau), 0.5 * (values[1:] + values[:-1])
    found = [float(values[0])]
    for share, mean in zip(shares.tolist(), means.tolist(), strict=True):
        found.append(found[-1] + share * (mean - found[-1]))
    return np.array(found)


def record_of(name: str, stands: str, option: str | None, log: Log, window: float) -> Record:
    """A log as it is judged; raises `ValueError` with what is wrong with it."""
    after = log.between(0.0, float("inf"))
    if after.time.size < 2:
        raise ValueError(f"holds {after.time.size or 'no'} reading{'s' * (after.time.size != 1)} after switch-on")
    if after.time[-1] < SHORTEST:
        raise ValueError(f"is {after.time[-1]:.0f} s long; a minute is the least that can be compared")
    step = max(STEP, float(after.time[-1]) / MOST)
    thin = after.averaged(step) if after.interval < step else after
    if not results(channel for channel, values in thin.readings.items() if np.isfinite(values).any()):
        raise ValueError("has no reading in any column that could be compared")
    digits = {channel: digit for channel, values in after.readings.items() if (digit := resolution(values)) is not None}
    return Record(name, stands, option, thin, min(window, 0.25 * float(thin.time[-1])), digits=digits)


def of_same_watts(records: Iterable[Record]) -> list[Record]:
    """The records with rises scaled to the mean of their supply watts; those without watts as they are."""
    records = list(records)
    watts = [record.watts for record in records if record.watts]
    if not watts:
        return records
    mean = float(np.mean(watts))
    ratios = [mean / record.watts if record.watts else 1.0 for record in records]
    return [replace(record, watts_ratio=ratio, _ends={}) for record, ratio in zip(records, ratios, strict=True)]

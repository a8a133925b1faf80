"""What changed in every channel, how sure that is, and what of it holds for all channels together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np

from thermsim.bench.paired.ends import End
from thermsim.bench.paired.quantities import Quantity, quantity_of, results
from thermsim.bench.paired.record import Record
from thermsim.bench.paired.repeats import Repeats, difference
from thermsim.bench.uncertainty import LEVEL, Component, Measured, holm, of_difference
from thermsim.case.benching import Bench
from thermsim.model.arrays import Floats

NO_ROOM = 0.5  # K, half width of what a room does between runs where nobody logged it; common practice, no source


@dataclass(frozen=True)
class Change:
    """A channel before and after."""

    quantity: Quantity
    before: Repeats
    after: Repeats
    measured: Measured  # after minus before

    @property
    def channel(self) -> str:
        """Its channel."""
        return self.quantity.channel

    @property
    def half_width(self) -> float:
        """Of the 95 % interval of the change."""
        return self.measured.half_width()

    @property
    def verdict(self) -> str:
        """Whether the 95 % interval leaves out zero: "lower", "higher", or "not told"."""
        if abs(self.measured.value) <= self.half_width:
            return "not told"
        return "lower" if self.measured.value < 0 else "higher"

    def facts(self) -> dict[str, Any]:
        """As plain values, in the quantity's unit."""
        by = self.quantity.factor
        budget = [{**row, "u": by * row["u"]} for row in self.measured.budget()]
        return {
            "channel": self.channel, "unit": self.quantity.unit, "is_rise": self.quantity.is_rise,
            "before": _stand(self.before, self.quantity), "after": _stand(self.after, self.quantity),
            "change": by * self.measured.value, "u": by * self.measured.u, "half_width": by * self.half_width,
            "level": LEVEL, "freedom": _finite(self.measured.freedom), "chance": self.measured.chance,
            "verdict": self.verdict, "budget": budget,
        }  # fmt: skip


def changes(before: Sequence[Record], after: Sequence[Record], settings: Bench) -> list[Change]:
    """Every channel that came to an end in at least one run of both stands, told from the runs in which it did."""
    found = []
    for channel in results(dict.fromkeys(name for record in before for name in record.channels)):
        ends = ([record.end(channel) for record in stand] for stand in (before, after))
        first, second = _whole_pairs(*ends) if settings.paired else tuple(map(_there, ends))
        if not first.count or not second.count:
            continue
        quantity = quantity_of(channel)
        beyond = _beyond(channel, before, after, settings) if quantity.is_rise else []
        assumed = settings.repeatability if quantity.is_rise else 0.0
        measured = difference(first, second, assumed, beyond, settings.paired)
        found.append(Change(quantity, first, second, measured))
    return found


def _there(ends: Iterable[End | None]) -> Repeats:
    return Repeats(tuple(end for end in ends if end is not None))


def _whole_pairs(before: Iterable[End | None], after: Iterable[End | None]) -> tuple[Repeats, Repeats]:
    pairs = [(a, b) for a, b in zip(before, after, strict=True) if a is not None and b is not None]
    return Repeats(tuple(a for a, _ in pairs)), Repeats(tuple(b for _, b in pairs))


def together(found: Sequence[Change]) -> dict[str, float]:
    """By channel of a part or probe: how often chance alone shows so much in any of them (Holm)."""
    some = [change for change in found if change.channel.split(".")[0] in ("part", "probe") and change.quantity.is_rise]
    return dict(zip((c.channel for c in some), holm(c.measured.chance for c in some), strict=True))


def _beyond(channel: str, before: Sequence[Record], after: Sequence[Record], settings: Bench) -> list[Component]:
    """What no repeat can show, K.

    A probe that stays in place carries the same error before and after: r = 1, nothing is left.
    """
    found = []
    if channel in settings.moved:
        u = of_difference(settings.calibration, settings.calibration, 0.0)
        found.append(Component("calibration of a probe that was moved", u))
    if before[0].room is None or after[0].room is None:
        return [*found, Component("room not logged", NO_ROOM / sqrt(3.0) * sqrt(2.0))]
    if "room" in settings.moved:
        found.append(
            Component("calibration of a room probe that was moved", of_difference(*[settings.calibration] * 2))
        )
    turned = _turned(before, after)
    return [*found, turned] if turned else found


def _turned(before: Sequence[Record], after: Sequence[Record]) -> Component | None:
    """The room's probes lie otherwise about their mean after than before, more than from run to run."""
    first, second = (_patterns(stand) for stand in (before, after))
    if first is None or second is None or first.shape[1] != second.shape[1]:
        return None
    probes = first.shape[1]
    apart = second.mean(axis=0) - first.mean(axis=0)
    variance = float(apart @ apart) / (probes - 1)
    free = (len(first) + len(second) - 2) * (probes - 1)
    by_chance = 0.0
    if free:  # what the repeats show already
        scatter = sum(float(((stand - stand.mean(axis=0)) ** 2).sum()) for stand in (first, second)) / free
        by_chance = scatter * (1 / len(first) + 1 / len(second))
    left = max(variance - by_chance, 0.0) / probes
    return Component("the room lies otherwise about the box", sqrt(left), probes - 1) if left else None


def _patterns(stand: Sequence[Record]) -> Floats | None:
    """Each room probe's mean over the last minutes, less that of all, by run; shape (runs, probes)."""
    rows = [record.room_probes for record in stand]
    if any(row is None or row.size < 2 for row in rows) or len({row.size for row in rows if row is not None}) > 1:
        return None
    table = np.array(rows)
    found: Floats = table - table.mean(axis=1, keepdims=True)
    return found


def _stand(repeats: Repeats, quantity: Quantity) -> dict[str, Any]:
    scatter, by = repeats.scatter, quantity.factor
    return {
        "mean": by * repeats.mean,
        "scatter": None if scatter is None else by * scatter,
        "runs": [by * value for value in repeats.values],
        "extrapolated": any(end.extrapolated for end in repeats.ends),
        "to_come": float(np.mean([end.to_come for end in repeats.ends])) if quantity.is_rise else 0.0,
        "per_h": by * 3600 * float(np.mean([end.tail.slope for end in repeats.ends])),
    }


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None

"""What changed in every channel, how sure that is, and what of it holds for all channels together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermsim.bench.paired.beyond import beyond
from thermsim.bench.paired.ends import End
from thermsim.bench.paired.quantities import Quantity, quantity_of, results
from thermsim.bench.paired.record import Record
from thermsim.bench.paired.repeats import Repeats, difference
from thermsim.bench.uncertainty import LEVEL, Measured, holm
from thermsim.case.benching import Bench


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
        assumed = quantity.repeatability(settings.repeatability, first.mean)
        hidden = beyond(quantity, (before, after), (first, second), assumed, settings)
        measured = difference(first, second, assumed, hidden, settings.paired)
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

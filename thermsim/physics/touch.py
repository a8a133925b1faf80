"""How hot a surface may be that is touched."""

from __future__ import annotations

from typing import Literal

AMBIENT_DEGC = 25.0  # that a surface is judged at, IEC 62368-1: not scaled to the hottest room
# °C for contacts of at least so many seconds, the longest first
_TS1: tuple[tuple[float, dict[str, float]], ...] = (
    (60.0, {"metal": 48.0, "glass": 48.0, "plastic": 48.0}),
    (10.0, {"metal": 51.0, "glass": 56.0, "plastic": 60.0}),
    (1.0, {"metal": 60.0, "glass": 71.0, "plastic": 77.0}),
    (0.0, {"metal": 70.0, "glass": 85.0, "plastic": 94.0}),
)


def touch_limit(material: Literal["metal", "glass", "plastic"], contact: float) -> float:
    """Highest temperature (°C) of class TS1 for a surface touched for so long (s).

    IEC 62368-1:2018 table 38, for surfaces that anyone may touch (from memory, but for 77 °C).
    """
    return next(row[material] for least, row in _TS1 if contact >= least)

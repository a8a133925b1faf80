"""Sound levels of fans and pumps: adding, changing speed, distance, weighting."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf, log10, pi, sqrt
from typing import Literal


def level_sum(levels: Iterable[float]) -> float:
    """Level (dB) of uncorrelated sources together, 10 lg Σ 10^(L/10); -inf for none. ISO 3744:2010."""
    finite = [level for level in levels if level != -inf]
    if not finite:
        return -inf
    loudest = max(finite)
    return loudest + 10.0 * log10(sum(10.0 ** (0.1 * (level - loudest)) for level in finite))


def speed_change(ratio: float) -> float:
    """Change of a fan's level (dB) with its speed, 50 lg(n2/n1); -inf for a stopped fan.

    The customary fan sound law, ASHRAE Handbook: HVAC Applications. Real small fans follow 40 to 60 lg.
    """
    return 50.0 * log10(ratio) if ratio > 0.0 else -inf


def background_correction_k1(delta: float) -> float:
    """Background noise correction K1 (dB) to subtract, for a source-on minus background difference (dB).

    ISO 3744:2010: -10 lg(1 - 10^(-0.1 ΔL)); none above 15 dB; below 6 dB the 6 dB value, and the result is
    then an upper bound (from memory of the clause).
    """
    if delta > 15.0:
        return 0.0
    return -10.0 * log10(1.0 - 10.0 ** (-0.1 * max(delta, 6.0)))


def a_weight(frequency: float) -> float:
    """A-weighting (dB) at a frequency (Hz), IEC 61672-1:2013 annex E; 0 dB at 1 kHz."""
    return _a_response(frequency) - _A_RESPONSE_1_KHZ


def _a_response(frequency: float) -> float:
    f2 = frequency * frequency
    gain = (f2 * f2) / (  # a constant factor would cancel
        (f2 + 20.598997**2) * sqrt((f2 + 107.65265**2) * (f2 + 737.86223**2)) * (f2 + 12194.217**2)
    )
    return 20.0 * log10(gain)


_A_RESPONSE_1_KHZ = _a_response(1000.0)


def distance_level(power_level: float, distance: float, field: Literal["hemisphere", "free"] = "hemisphere") -> float:
    """Sound pressure level (dB) at a distance (m) from a small source of a sound power level (dB).

    Over a hard floor the sound spreads over a hemisphere, 2πr²; in free space over a sphere, 4πr².
    """
    if field not in ("hemisphere", "free"):
        raise ValueError(f"sound field {field!r}: give 'hemisphere' or 'free'")
    area = (2.0 if field == "hemisphere" else 4.0) * pi * distance**2
    return power_level - 10.0 * log10(area)


def blade_tone(blades: int, rev_per_min: float) -> float:
    """Blade-passing frequency (Hz), where a fan's tone is heard."""
    return blades * rev_per_min / 60.0

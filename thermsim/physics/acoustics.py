"""Sound levels of fans and pumps: adding, changing speed, distance, weighting, standing out from a room."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf, log2, log10, pi, sqrt
from typing import Literal

OCTAVES_HZ = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
HEARD_FROM = 6.0  # dB below the room: common practice, no source; the room's level then rises by 1 dB


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


def a_level(bands: Iterable[float]) -> float:
    """A-weighted level (dB(A)) of unweighted octave bands (dB) at `OCTAVES_HZ`, weights as in IEC 61672-1:2013.

    Weights are those at the exact centres, 1000 Hz times powers of 10^0.3.
    """
    exact = (1000.0 * 10.0 ** (0.3 * n) for n in range(-4, 4))
    return level_sum(level + a_weight(frequency) for level, frequency in zip(bands, exact, strict=True))


def octave_of(frequency: float) -> int | None:
    """Which of `OCTAVES_HZ` a frequency (Hz) lies in; None outside them."""
    number = round(log2(frequency / 1000.0)) + 4 if frequency > 0.0 else -1
    return number if 0 <= number < len(OCTAVES_HZ) else None


def above(level: float, floor: float) -> float:
    """By how many dB a sound of a level raises a room of a floor, dB."""
    return level_sum((level, floor)) - floor


def is_heard(level: float, floor: float) -> bool:
    """Whether a sound stands out from a room: from `HEARD_FROM` dB below its floor. Common practice, no source."""
    return level >= floor - HEARD_FROM


def distance_change(stated_at: float, heard_at: float) -> float:
    """Change of a level (dB) from the distance it was stated at to that it is heard at (m), -20 lg(r2/r1).

    A small source in the open, as in ISO 3744:2010: 6.02 dB less for twice as far. In a room echoes add to it.
    """
    return -20.0 * log10(heard_at / stated_at)


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

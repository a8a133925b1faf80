"""Sound levels against closed forms, ISO 3744 and IEC 61672."""

from math import inf

import pytest

from thermsim.physics.acoustics import (
    a_weight,
    background_correction_k1,
    blade_tone,
    distance_level,
    level_sum,
    speed_change,
)


@pytest.mark.parametrize(
    ("levels", "total"),
    [([60, 60], 63.0103), ([60, 57], 61.7643), ([60, 50], 60.4139), ([48] * 5, 54.9897), ([60, -inf], 60.0)],
)
def test_level_sum(levels, total):
    assert level_sum(levels) == pytest.approx(total, abs=1e-4)


def test_silence():
    assert level_sum([]) == level_sum([-inf, -inf]) == -inf
    assert speed_change(0.0) == -inf


@pytest.mark.parametrize(("ratio", "change"), [(1.2, 3.959), (0.5, -15.051), (2.0, 15.051), (1.0, 0.0)])
def test_fan_sound_law(ratio, change):
    # ASHRAE Handbook: HVAC Applications, 50 lg
    assert speed_change(ratio) == pytest.approx(change, abs=1e-3)


@pytest.mark.parametrize(
    ("delta", "k1"),
    [(6, 1.256), (7, 0.967), (8, 0.749), (10, 0.458), (15, 0.140), (16, 0.0), (3, 1.256), (-2, 1.256)],
)
def test_background_correction(delta, k1):
    # ISO 3744:2010, the limits from memory of the clause
    assert background_correction_k1(delta) == pytest.approx(k1, abs=1e-3)


def test_a_weights_of_iec_61672():
    # IEC 61672-1 table 3, 63 Hz to 8 kHz, at the exact (base ten) centres
    octaves = [1000.0 * 10.0 ** (0.3 * n) for n in range(-4, 4)]
    table = [-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1]
    for frequency, weight in zip(octaves, table, strict=True):
        assert a_weight(frequency) == pytest.approx(weight, abs=0.06)


def test_octave_spectrum():
    spectrum = [48, 46, 44, 42, 40, 36, 31, 25]
    weights = [-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1]
    assert level_sum(spectrum) == pytest.approx(52.03, abs=0.01)
    assert level_sum(a + b for a, b in zip(spectrum, weights, strict=True)) == pytest.approx(44.66, abs=0.01)
    ours = level_sum(a + a_weight(1000.0 * 2.0**n) for a, n in zip(spectrum, range(-4, 4), strict=True))
    assert ours == pytest.approx(44.66, abs=0.05)


def test_distance():
    assert distance_level(60.0, 1.0) == pytest.approx(60.0 - 7.982, abs=1e-3)
    assert distance_level(60.0, 1.0, "free") == pytest.approx(60.0 - 10.992, abs=1e-3)
    assert distance_level(60.0, 2.0) - distance_level(60.0, 1.0) == pytest.approx(-6.021, abs=1e-3)
    with pytest.raises(ValueError, match="sound field"):
        distance_level(60.0, 1.0, "cupboard")


def test_blade_tone():
    # 7 blades at 3000 rev/min pass 350 times a second
    assert blade_tone(7, 3000.0) == 350.0

"""Effectiveness against exact values, an independent library, worked examples, and limits."""

from math import exp, inf, pi

import pytest
from ht import effectiveness_from_NTU

from thermsim.physics.exchangers import effectiveness, exchange_conductance

# counter, parallel, cross-flow both unmixed; the last from the exact series and a 400 x 400 box scheme
EXACT = [
    (1, 0.25, 0.59829, 0.57080, 0.58801),
    (1, 0.5, 0.56473, 0.51791, 0.54749),
    (1, 1.0, 0.50000, 0.43233, 0.47622),
    (2, 0.25, 0.82277, 0.73433, 0.79742),
    (2, 0.5, 0.77460, 0.63348, 0.73241),
    (2, 1.0, 0.66667, 0.49084, 0.61425),
]
ARRANGEMENTS = {"counter": "counterflow", "parallel": "parallel", "cross": "crossflow"}


@pytest.mark.parametrize(("ntu", "ratio", "counter", "parallel", "cross"), EXACT)
def test_exact_values(ntu, ratio, counter, parallel, cross):
    assert effectiveness(ntu, ratio, "counter") == pytest.approx(counter, abs=6e-6)
    assert effectiveness(ntu, ratio, "parallel") == pytest.approx(parallel, abs=6e-6)
    assert effectiveness(ntu, ratio, "cross") == pytest.approx(cross, abs=6e-6)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("ntu", [0.03, 0.7, 4.0, 25.0])
@pytest.mark.parametrize("ratio", [0.05, 0.6, 0.999, 1.0])
def test_against_ht(arrangement, ntu, ratio):
    reference = effectiveness_from_NTU(ntu, ratio, ARRANGEMENTS[arrangement])
    assert effectiveness(ntu, ratio, arrangement) == pytest.approx(reference, rel=1e-6)


def test_incropera_example_11_3():
    # Incropera & DeWitt, 6th ed., example 11.3: effectiveness 0.75 at NTU 2.0404 (the book's chart reads 2.1)
    assert effectiveness(2.0404, 1888.65 / 4197.0, "cross") == pytest.approx(0.75, abs=2e-4)


def test_incropera_example_11_4():
    # Incropera & DeWitt, 6th ed., example 11.4: exact 0.8358 (the book's chart reads 0.82)
    assert effectiveness(2.6667, 0.3574, "cross") == pytest.approx(0.8358, abs=1e-4)


def test_tube_at_constant_wall_temperature():
    # h 1500, D 6 mm, L 1 m, 0.02 kg/s, cp 4180, wall 60, inlet 20 °C: outlet 31.4782 °C, by hand
    ntu = 1500.0 * pi * 6e-3 / (0.02 * 4180.0)
    assert ntu == pytest.approx(0.338210, rel=1e-5)
    assert 20.0 + 40.0 * effectiveness(ntu, 0.0, "counter") == pytest.approx(31.4782, abs=1e-4)
    # Incropera & DeWitt, 6th ed., example 8.3: h 755 heats 0.25 kg/s from 15 to 57 °C in a tube at 100 °C
    ntu = 755.22 * pi * 0.05 * 6.0 / (0.25 * 4178.0)
    assert 15.0 + 85.0 * effectiveness(ntu, 0.0, "counter") == pytest.approx(57.0, abs=2e-3)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_limits(arrangement):
    assert effectiveness(0.0, 0.5, arrangement) == 0.0
    assert effectiveness(1e-9, 0.5, arrangement) == pytest.approx(1e-9, rel=1e-6)
    for ratio in (0.0, 1e-14, 1e-7):
        assert effectiveness(1.3, ratio, arrangement) == pytest.approx(1 - exp(-1.3), rel=1e-6)
    assert effectiveness(inf, 0.0, arrangement) == 1.0
    limit = 1 / 1.5 if arrangement == "parallel" else 1.0
    assert effectiveness(inf, 0.5, arrangement) == pytest.approx(limit, rel=1e-6)
    assert effectiveness(1e6, 1.0, arrangement) == pytest.approx(0.5 if arrangement == "parallel" else 1.0, rel=0.02)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_near_equal_capacities_have_no_jump(arrangement):
    values = [effectiveness(3.0, 1.0 - step, arrangement) for step in (0.0, 1e-15, 1e-12, 1e-8)]
    assert values == pytest.approx([values[0]] * 4, rel=1e-7)


def test_conductance_between_inlets():
    assert exchange_conductance(20.0, 10.0, 20.0, "counter") == pytest.approx(7.7460, rel=1e-4)
    assert exchange_conductance(20.0, 20.0, 10.0, "counter") == pytest.approx(7.7460, rel=1e-4)
    assert exchange_conductance(20.0, 0.0, 10.0, "cross") == 0.0
    assert exchange_conductance(20.0, 0.0, 0.0, "cross") == 0.0
    # a trickle gives up all it has
    assert exchange_conductance(20.0, 1e-8, 10.0, "cross") == pytest.approx(1e-8)


def test_wrong_arguments():
    with pytest.raises(ValueError, match="arrangement"):
        effectiveness(1.0, 0.5, "sideways")
    with pytest.raises(ValueError, match="capacity ratio"):
        effectiveness(1.0, 1.05, "counter")

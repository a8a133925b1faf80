"""Board stack-ups by series and parallel layers."""

import pytest

from thermsim.physics.boards import stackup_conductivity, stackup_heat_capacity


def test_two_signal_and_two_plane_layers():
    # by hand: 1.6 mm, 70 µm at 20 % twice, 35 µm at 95 % twice
    layers = [(70e-6, 0.2), (35e-6, 0.95), (35e-6, 0.95), (70e-6, 0.2)]
    in_plane, through = stackup_conductivity(layers, 1.6e-3)
    assert in_plane == pytest.approx(23.0213, rel=1e-5)
    assert through == pytest.approx(0.34517, rel=1e-4)


def test_four_full_planes():
    in_plane, through = stackup_conductivity([(35e-6, 1.0)] * 4, 1.6e-3)
    assert (in_plane, through) == pytest.approx((33.9613, 0.32874), rel=1e-4)


def test_bare_and_solid():
    assert stackup_conductivity([], 1.6e-3) == pytest.approx((0.3, 0.3))
    assert stackup_conductivity([(1e-3, 1.0)], 1e-3) == pytest.approx((385.0, 385.0))
    assert stackup_heat_capacity([], 1.6e-3) == pytest.approx(1850.0 * 1100.0)
    assert stackup_heat_capacity([(1e-3, 1.0)], 1e-3) == pytest.approx(8933.0 * 385.0)


def test_heat_capacity_is_shared_by_volume():
    assert stackup_heat_capacity([(0.2e-3, 0.5)], 1e-3, copper=3.0, laminate=1.0) == pytest.approx(1.2)


@pytest.mark.parametrize("layers", [[(2e-3, 1.0)], [(35e-6, 1.05)], [(-35e-6, 0.2)]])
def test_impossible_stackups(layers):
    with pytest.raises(ValueError, match="copper"):
        stackup_conductivity(layers, 1.6e-3)

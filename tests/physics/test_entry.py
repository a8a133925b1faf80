"""Mean films of short passages."""

import pytest
from ht.conv_internal import turbulent_entry_Hausen

from thermsim.physics.ducts import nusselt_gnielinski
from thermsim.physics.entry import mean_nusselt


@pytest.mark.parametrize(("x", "nu"), [(0.005, 8.943), (0.01, 7.155), (0.05, 4.641), (0.1, 4.156), (1.0, 3.707)])
def test_laminar_entry_by_graetz(x, nu):
    # Graetz: mean Nu at x* = L/(D·Re·Pr) of a circular tube at one wall temperature (own eigenvalue solution); Hausen's
    # formula is high by 1 to 4 %
    re, pr = 1000.0, 5.0
    assert mean_nusselt(re, pr, 3.657, 1 / (x * re * pr)) == pytest.approx(nu, rel=0.041)


@pytest.mark.parametrize("short", [0.02, 0.1, 0.5])
def test_turbulent_entry_factor(short):
    # Hausen 1959, through ht: the mean over L against that of a long tube
    ratio = turbulent_entry_Hausen(2e4, 0.7, short, 1.0) / turbulent_entry_Hausen(2e4, 0.7, short, 1e12)
    assert mean_nusselt(2e4, 0.7, 3.657, short) / nusselt_gnielinski(2e4, 0.7) == pytest.approx(ratio, rel=1e-6)


def test_regimes_join():
    for edge in (2300.0, 4000.0):
        below, above = (mean_nusselt(edge * (1 + sign * 1e-9), 5.0, 3.657, 0.05) for sign in (-1, 1))
        assert below == pytest.approx(above, rel=1e-6)

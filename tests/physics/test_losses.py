"""Minor losses against Borda-Carnot, handbook coefficients, and Darby's 3-K constants."""

import pytest
from fluids.fittings import Darby3K

from thermsim.physics.losses import (
    FITTING_K,
    bend_loss,
    minor_loss_pressure,
    sudden_contraction,
    sudden_expansion,
)


def test_sudden_expansion_5_to_10_mm():
    # Borda-Carnot, exact: (1 - 0.25)²
    assert sudden_expansion(0.5) == pytest.approx(0.5625)
    assert sudden_expansion(0.0) == FITTING_K["exit"] == 1.0
    assert sudden_expansion(1.0) == 0.0


def test_sudden_contraction_10_to_5_mm():
    # White, Fluid Mechanics: 0.42 (1 - β²), from memory
    assert sudden_contraction(0.5) == pytest.approx(0.315)


def test_fittings_within_handbook_spans():
    # White, Fluid Mechanics, section 6.9 and table 6.5; Crane TP-410; from memory
    assert FITTING_K["sharp entry"] == 0.5
    assert 0.02 <= FITTING_K["rounded entry"] <= 0.1
    assert 0.78 <= FITTING_K["protruding entry"] <= 1.0
    assert 0.2 <= FITTING_K["long elbow"] < FITTING_K["elbow"] < FITTING_K["mitre elbow"] <= 1.5
    assert 0.2 <= FITTING_K["tee run"] <= 0.9 < FITTING_K["tee branch"] <= 2.0


def test_bend_at_high_reynolds_against_crane():
    # Crane TP-410: 90° bend with r/D = 1.5 is 14 f_T, f_T = 0.019 for 2-inch pipe; another method, so 25 %
    bend = bend_loss(1e6, 0.0525, radius=1.5 * 0.0525)
    assert bend.value == pytest.approx(14 * 0.019, rel=0.25)
    # Crane: 90° mitre 60 f_T
    assert bend_loss(1e6, 0.0525).value == pytest.approx(60 * 0.019, rel=0.25)


def test_bend_at_low_reynolds():
    # Darby: 800/Re + 0.056 (1 + 3.9/D^0.3), r/D 2, one-inch bore: 8.0 + 0.2744
    bend = bend_loss(100.0, 0.0254, radius=0.0508)
    assert bend.value == pytest.approx(8.2744, rel=1e-4)
    assert (bend.name, bend.regime) == ("Darby 3-K", "radius 2 bores")
    assert bend_loss(100.0, 0.0254, radius=0.0508, angle_deg=45.0).value == pytest.approx(8.2744 / 2, rel=1e-4)


@pytest.mark.parametrize(
    ("ratio", "fitting"),
    [
        (1.0, "Elbow, 90°, flanged, welded, bends, (r/D = 1)"),
        (1.5, "Elbow, 90°, threaded, long radius, (r/D = 1.5)"),
        (2.1, "Elbow, 90°, (r/D = 2)"),
        (4.5, "Elbow, 90°, (r/D = 4)"),
        (5.2, "Elbow, 90°, (r/D = 6)"),
        (None, "Elbow, 90°, mitered, 1 weld, (90°)"),
    ],
)
@pytest.mark.parametrize("re", [0.5, 200.0, 1e6])
def test_bends_against_the_table_of_fluids(ratio, fitting, re):
    reference = Darby3K(NPS=0.5, Re=re, name=fitting)
    radius = None if ratio is None else ratio * 0.0127
    assert bend_loss(re, 0.0127, radius).value == pytest.approx(reference, rel=1e-9)


def test_small_bore_is_said_to_be_extrapolated():
    assert "extrapolated" in bend_loss(500.0, 4e-3, radius=8e-3).name
    assert "extrapolated" not in bend_loss(500.0, 13e-3, radius=26e-3).name
    assert bend_loss(0.0, 4e-3).value == 0.0


def test_loss_pressure_is_of_the_velocity_head_and_odd():
    # 1 m/s of water: 500 Pa a head
    assert minor_loss_pressure(0.5, 1e-4, 1e-4, 1000.0) == pytest.approx(250.0)
    assert minor_loss_pressure(0.5, -1e-4, 1e-4, 1000.0) == pytest.approx(-250.0)

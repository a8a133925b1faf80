"""Joint resistance: bond line over conductivity, plus contact."""

import pytest

from thermsim.physics.joints import joint_resistivity


@pytest.mark.parametrize(
    ("bond_line", "conductivity", "contact", "mm2k_per_w", "kelvin"),
    [(100e-6, 1.0, 0.0, 100.0, 10.0), (50e-6, 5.0, 5e-6, 15.0, 1.50), (25e-6, 3.5, 2e-6, 9.14, 0.914)],
)
def test_paste(bond_line, conductivity, contact, mm2k_per_w, kelvin):
    # by hand, with the drop of 40 W through 20 x 20 mm
    resistivity = joint_resistivity(bond_line, conductivity, contact)
    assert resistivity * 1e6 == pytest.approx(mm2k_per_w, abs=5e-3)
    assert 40.0 * resistivity / 400e-6 == pytest.approx(kelvin, abs=1e-3)


def test_no_contact_resistance_unless_given():
    assert joint_resistivity(100e-6, 1.0) == pytest.approx(1e-4)

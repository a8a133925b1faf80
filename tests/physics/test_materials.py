"""The material library against printed diffusivities, which it does not hold."""

import tomllib
from importlib.resources import files

import pytest

LIBRARY = tomllib.loads((files("thermsim") / "case" / "materials.toml").read_text(encoding="utf-8"))

# Incropera & DeWitt, 6th ed., tables A.1 and A.2 at 300 K, diffusivity in mm²/s, from memory
DIFFUSIVITY = {
    "copper": 117.0,
    "aluminium-2024": 73.0,
    "brass": 33.9,
    "steel": 17.7,
    "stainless-304": 3.95,
    "stainless-316": 3.48,
    "silicon": 89.2,
    "alumina": 11.9,
    "tin": 40.1,
}


@pytest.mark.parametrize(("name", "expected"), DIFFUSIVITY.items())
def test_diffusivity(name, expected):
    material = LIBRARY["material"][name]
    ours = material["conductivity"] / (material["density"] * material["cp"]) * 1e6
    assert ours == pytest.approx(expected, rel=0.01)


def test_every_entry_has_its_values_and_its_source():
    for material in LIBRARY["material"].values():
        assert set(material) == {"conductivity", "density", "cp", "source"}
        assert min(material["conductivity"], material["density"], material["cp"]) > 0.0
        assert material["source"]
    for finish in LIBRARY["finish"].values():
        assert set(finish) == {"emissivity", "source"}
        assert 0.0 < finish["emissivity"] <= 1.0
        assert finish["source"]

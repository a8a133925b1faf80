"""Every relation the model can use is listed with range and source."""

import numpy as np
import pytest

from thermsim.physics.air import dry_air
from thermsim.physics.ducts import friction_factor, nusselt
from thermsim.physics.films import duct_film, flat_plate
from thermsim.physics.fins import plate_fin_film
from thermsim.report.page.basis import basis, laws_of, relation_name, relations
from thermsim.store.result import Result

AIR = dry_air(25.0)
SPEEDS = np.geomspace(1e-3, 60.0, 60)


def names_in_use() -> set[str]:
    """Names that films can report, over all regimes."""
    found = {nusselt(re, 0.7, 4.36, entry).name for re in np.geomspace(1, 1e5, 200) for entry in (0.0, 0.1)}
    found |= {flat_plate(10 * v, 1.0, AIR).name for v in SPEEDS}
    found |= {duct_film(v, 0.05, 0.2, 0.3, AIR).name for v in SPEEDS}
    return found | {plate_fin_film(v, 0.004, 0.02, 0.05, AIR).name for v in SPEEDS}


def test_every_name_that_can_be_reported_is_listed() -> None:
    assert len(names_in_use()) > 8
    assert {relation_name(name) for name in names_in_use()} == set(relations()["used"])
    assert friction_factor(3000.0).name not in relations()["used"]  # told by the law of friction, not by name


def test_every_relation_has_a_range_and_a_source() -> None:
    for kind, found in relations().items():
        for name, told in found.items():
            assert {"says", "range", "source"} <= set(told), (kind, name)
            assert all(text.strip() for text in told.values()), (kind, name)


def test_what_a_case_rests_on(results: dict[str, Result]) -> None:
    spec = results["liquid"].case.spec
    assert laws_of(spec) == [
        "conduction", "joint", "scaled", "fixed", "fan", "noise", "air", "friction", "pump", "water", "radiator",
    ]  # fmt: skip
    assert not {"joint", "pump", "water", "radiator", "friction"} & set(laws_of(results["base"].case.spec))
    assert set(laws_of(spec)) <= set(relations()["law"])


def test_rows_name_the_options_concerned(results: dict[str, Result]) -> None:
    rows = {row["what"]: row for row in basis(results)}
    assert rows["Sheets"]["options"] == []  # all
    assert rows["Water"]["options"] == ["liquid", "liquid, pump stops"]
    assert rows["plate.main"]["source"] == "Hausen (1943); Shah & London (1978) for Nu_T"


@pytest.mark.parametrize("name", ["fin gap, Gnielinski", "rectangular passage, Gnielinski", "Gnielinski"])
def test_passages_do_not_hide_the_relation(name: str) -> None:
    assert relation_name(name) == "Gnielinski"

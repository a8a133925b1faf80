"""Draws follow the laws they are said to follow, in any case and option; what cannot be uncertain is said plainly."""

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

sys.path.append(str(Path(__file__).parent))
from two_parts import A_W, B_W, ROOM, H, R, two_parts

from thermsim.case import load_case
from thermsim.case.errors import CaseError
from thermsim.studies.sweep.sampling import common_draws, draws, uncertain_inputs

CASES = Path(__file__).parents[2] / "cases"
COUNT = 1024


def drawn(address: str, table: dict, **how) -> np.ndarray:
    """Values of one uncertain input in all samples, as they are written without their unit."""
    case = two_parts(uncertain={"x": {"of": address} | table})
    return np.array([float(str(draw[address]).split(" ")[0]) for draw in draws(case, COUNT, **how)])


# two standard deviations are the spread; draws further out than three are cut off. SciPy's own distributions
@pytest.mark.parametrize("method", ["sobol", "latin"])
@pytest.mark.parametrize(
    ("address", "table", "expected"),
    [
        ("part.a.watts", {"spread": "20 %"}, stats.truncnorm(-3, 3, A_W, 0.1 * A_W)),
        ("room.temperature", {"spread": "3 K"}, stats.truncnorm(-3, 3, ROOM, 1.5)),
        ("part.a.watts", {"spread": "2 W", "law": "uniform"}, stats.uniform(A_W - 2, 4)),
        (
            "joint.ab.resistance",
            {"low": "1 K/W", "high": "5 K/W", "law": "triangular"},
            stats.triang((R - 1) / 4, 1, 4),
        ),
        ("film.f.h", {"spread": "50 %", "law": "lognormal"}, stats.lognorm(np.log(1.5) / 2, scale=H)),
        ("film.f.h", {"spread": "100 %", "law": "lognormal"}, stats.lognorm(np.log(2.0) / 2, scale=H)),  # a factor two
        ("part.b.watts", {"low": "1 W", "high": "4 W", "law": "lognormal"}, stats.lognorm(np.log(4) / 4, scale=B_W)),
    ],
)
def test_draws_follow_their_law(address, table, expected, method):
    values = drawn(address, table, method=method)
    # points that fill the unit interval evenly leave a distance far under that of chance, about 1/√n = 0.03; what
    # the lognormal law's cut leaves out is 0.003
    assert stats.kstest(values, expected.cdf).statistic < 0.004


def test_a_seed_is_a_sample():
    table = {"spread": "20 %"}
    np.testing.assert_array_equal(drawn("part.a.watts", table, seed=3), drawn("part.a.watts", table, seed=3))
    assert (drawn("part.a.watts", table, seed=3) != drawn("part.a.watts", table, seed=4)).all()


def test_inputs_move_each_by_itself_or_together():
    case = two_parts(uncertain={
        "watts": {"of": ["part.*.watts"], "spread": "20 %"}, "joint": {"of": "joint.ab.resistance", "spread": "20 %"},
    })  # fmt: skip
    rows = [
        [float(draw[one].split(" ")[0]) for one in ("part.a.watts", "part.b.watts", "joint.ab.resistance")]
        for draw in draws(case, COUNT)
    ]
    a, b, joint = np.array(rows).T
    np.testing.assert_allclose(a / A_W, b / B_W, rtol=1e-8)
    assert abs(np.corrcoef(a, joint)[0, 1]) < 0.01


def test_a_curve_moves_in_pressure():
    case = load_case(CASES / "digitiser").with_changes({"uncertain.fans.spread": "10 %"})
    (fans,) = (one for one in uncertain_inputs(case) if one.name == "fans")
    before, after = case.spec.fan["pair"].curve, case.with_changes(fans.changes(1.1)).spec.fan["pair"].curve
    np.testing.assert_allclose(np.array(after), np.array(before) * [1, 1.1], rtol=1e-9)


def test_emissivities_stay_possible():
    case = load_case(CASES / "digitiser").with_changes({"uncertain.finishes.spread": "30 %"})
    found = [draw["radiation.board_lid.emissivity"] for draw in draws(case, 64)]
    assert np.array(found).max() == 1.0
    case.with_changes(max(draws(case, 64), key=lambda draw: draw["radiation.board_lid.emissivity"]))


def test_options_share_what_they_share():
    case = load_case(CASES / "digitiser")
    cases = {name: case.with_option(name) for name in (None, "hybrid")}
    base, hybrid = (common_draws(cases, 8)[name] for name in cases)
    for one, other in zip(base, hybrid, strict=True):
        assert one["part.fpga.watts"] == other["part.fpga.watts"]
        assert "joint.adc1_plate.resistance" in other
        assert "joint.adc1_plate.resistance" not in one
        assert "joint.fpga_paste.resistance" not in other


def test_an_option_of_which_all_is_known_well_has_its_samples():
    case = load_case(CASES / "digitiser")
    others = {f"uncertain.{one}": None for one in case.spec.uncertain if one != "paste"}
    others["fit.unknowns"] = None  # it names some of them
    case = case.with_changes(others | {"uncertain.paste.of": "joint.adc1_plate.resistance"})  # which the base has not
    base, hybrid = common_draws({name: case.with_option(name) for name in (None, "hybrid")}, 3).values()
    assert base == [{}, {}, {}]
    assert [list(draw) for draw in hybrid] == [["joint.adc1_plate.resistance"]] * 3


@pytest.mark.parametrize("name", ["digitiser", "organ"])
def test_without_tables_practice_is_assumed_and_said(name):
    case = load_case(CASES / name)
    no_fit = {"fit.unknowns": None} if case.spec.fit.unknowns else {}  # it names some of them
    plain = case.with_changes({f"uncertain.{one}": None for one in case.spec.uncertain} | no_fit)
    found = {one.name: one for one in uncertain_inputs(plain)}
    assert all(one.assumed for one in found.values())
    assert found["room.temperature"].facts() | {"law": ""} == {
        "name": "room.temperature", "of": ["room.temperature"], "nominal": case.spec.room.temperature,
        "low": case.spec.room.temperature - 2, "high": case.spec.room.temperature + 2,
        "dimension": "temperature", "law": "", "assumed": True,
    }  # fmt: skip
    for draw in draws(plain, 8, method="latin"):
        plain.with_changes(draw)
    assert not any(one.assumed for one in uncertain_inputs(case))


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            {"of": "part.c.watts", "spread": "5 %"},
            'uncertain.x.of[1]: there is no part "c"; did you mean "a"?|uncertain.x.of',
        ),
        ({"of": "part.a.wats", "spread": "5 %"}, 'unknown key "wats"; did you mean "watts"?'),
        ({"of": "part.a.limit_at", "spread": "5 %"}, "is not a number that can be uncertain"),
        ({"of": "part.b.height", "spread": "5 mm"}, "part.b.height is not stated"),
        ({"of": "room.temperature", "spread": "5 %"}, 'in kelvin, for example "2 K"'),
        ({"of": "part.a.watts", "spread": "5 K"}, "'5 K' is a temperature; expected a power|is a difference"),
        ({"of": "part.a.watts", "spread": "80 %"}, "might come down to zero"),
        ({"of": "part.a.watts"}, "needs either a spread"),
        ({"of": "part.a.watts", "low": "1 W"}, "needs low and high together"),
        ({"of": "part.a.watts", "low": "6 W", "high": "4 W"}, "low must be below high"),
        ({"of": "part.a.watts", "low": "6 W", "high": "7 W", "law": "triangular"}, "where a triangle peaks"),
        ({"of": "part.*.watts", "low": "1 W", "high": "7 W"}, "low and high stand for one value"),
        ({"of": "part.a.watts", "spread": "2 W", "law": "lognormal"}, "a lognormal law needs"),
        ({"of": "box.outside.h", "spread": "5 %"}, "film.box_*_outside.h"),
    ],
)
def test_what_cannot_be_is_said(table, message):
    with pytest.raises(CaseError) as error:
        two_parts(uncertain={"x": table})
    assert any(piece in str(error.value) for piece in message.split("|")), str(error.value)
    assert len(error.value.problems) == 1

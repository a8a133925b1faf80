"""The books of the demo cases' loops and heat pipes: regression checks against hand sums, not checks of physics."""

from functools import cache
from pathlib import Path

import pytest

from thermsim.case import load_case
from thermsim.studies.loop.study import loop_study
from thermsim.studies.pipes.study import pipes_study

CASES = Path(__file__).parents[2] / "cases"


@cache
def demo(name):
    return load_case(CASES / name, changes={"run.cell": "10 mm"})


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("books")


def test_the_digitisers_loop(folder):
    facts = loop_study(demo("digitiser"), folder, ["hybrid"])
    (book,) = facts["books"]
    # by hand: 0.58 L/min at 34.7 kPa: hoses 19, plate 10.6, fittings 3, radiator 1.9; Re 1550
    assert book["pump"]["flow_l_per_min"] == pytest.approx(0.58, rel=0.1)
    assert book["pump"]["pressure_pa"] == pytest.approx(34.7e3, rel=0.05)
    friction = sum(row["friction_pa"] for row in book["elements"] if row["element"].startswith("hose."))
    assert friction == pytest.approx(19e3, rel=0.1)
    hose = next(row for row in book["elements"] if row["element"] == "hose.out")
    assert (hose["reynolds"], hose["regime"]) == (pytest.approx(1550, rel=0.12), "laminar")
    assert any(text.startswith("Change nothing") for text in facts["answer"])
    assert "preamp" in facts["answer"][0]  # the lesson: what no plate touches is the tightest
    assert any("lives by its inhibitor alone" in text for text in facts["warnings"])


def test_the_organs_loops(folder):
    facts = loop_study(demo("organ"), folder)
    assert [book["option"] for book in facts["books"]] == [
        "liquid",
        "liquid, two blocks side by side",
        "liquid, one plate",
    ]
    # by hand: 1.5 L/min at 24 kPa, Re 2200 to 2500: transitional
    liquid = facts["books"][0]
    assert liquid["pump"]["flow_l_per_min"] == pytest.approx(1.5, rel=0.1)
    assert liquid["pump"]["pressure_pa"] == pytest.approx(24e3, rel=0.1)
    (told,) = [one for one in facts["limits"] if one["name"] == "flow in transition"]
    assert set(told["where"]) >= {"hose.out", "plate.main"}
    twin = facts["books"][1]["branches"][0]["ways"]
    assert [way["starved"] for way in twin] == [True, False]
    assert liquid["fill"]["volume_ml"] == pytest.approx(450, abs=1)


def test_two_pipes_run_dry_and_three_have_too_little_to_spare(folder):
    facts = pipes_study(demo("organ"), folder)
    two, three = (book["pipes"][0]["states"]["play"] for book in facts["books"])
    # by hand: 2 · 38 W · 0.7 · 0.9² = 43 W for 55 W less what the board takes; three 65 W, margin 1.17 to 1.22
    assert two["capacity_w"] == pytest.approx(43.1, abs=0.05)
    assert two["margin"] < 1
    assert 1.15 < three["margin"] < 1.3
    assert [text.startswith("Reject") for text in facts["answer"][:2]] == [True, True]

"""What the demo cases teach about placing plates. Their data are invented: regression, not physics."""

import json
from pathlib import Path

import pytest

from thermsim.case import load_case
from thermsim.report.place_text import place_text
from thermsim.studies.place.setup import search_of
from thermsim.studies.place.study import place

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def digitiser(tmp_path_factory):
    folder = tmp_path_factory.mktemp("place")
    coarse = {"place.pitch": "8 mm", "place.leaders": 3, "run.cell": "5 mm"}
    return place(load_case(CASES / "digitiser", changes=coarse), folder)


def test_the_worst_margin_and_not_the_watts_covered(digitiser):
    one, drawn = digitiser["leaders"][0], digitiser["now"]
    two = digitiser["pairs"]["series"]["best"]
    assert "fpga" in one["covered"]  # a third of all watts, and it has no other cooler
    assert one["exact_worst_part"].startswith("preamp")  # which one small plate cannot reach as well
    assert one["exact_worst_margin_k"] < 0 < drawn["worst_margin_k"]
    assert two["exact_worst_margin_k"] > drawn["worst_margin_k"] + 3  # with half the metal of the plate as drawn
    assert any("preamp" in part for plate in ("first", "second") for part in two[plate]["covered"])
    assert digitiser["answer"][0].startswith("Two plates in series")


def test_side_by_side_less_drop_and_hardly_less_margin(digitiser):
    series, parallel = (digitiser["pairs"][name]["best"] for name in ("series", "parallel"))
    assert parallel["loop_drop_kpa"] < series["loop_drop_kpa"]
    assert parallel["flow_l_per_min"] > series["flow_l_per_min"]
    assert parallel["exact_worst_margin_k"] == pytest.approx(series["exact_worst_margin_k"], abs=0.5)


def test_what_is_solved_again_is_what_was_screened(digitiser):
    leaders = [*digitiser["leaders"], *digitiser["pairs"]["series"]["leaders"]]
    assert all(abs(leader["screening_error_k"]) < 0.1 for leader in leaders)
    assert digitiser["counts"]["factorisations"] < 10


def test_the_text_begins_with_the_answer(digitiser):
    lines = place_text(digitiser, 1000).splitlines()
    assert lines[1 : 1 + len(digitiser["answer"])] == [f"• {line}" for line in digitiser["answer"]]
    assert any("not an approval" in line for line in lines)


def test_as_the_case_has_it_there_are_eight_hundred_allowed_positions(tmp_path):
    search = search_of(load_case(CASES / "digitiser"))
    verdicts = search.verdicts(search.first)
    assert sum(one.allowed for one in verdicts) >= 800


def test_one_plate_in_the_organ_lies_well_as_drawn(tmp_path):
    facts = place(load_case(CASES / "organ"), tmp_path)
    assert facts["now"]["by_the_rules"] == []
    assert set(facts["leaders"][0]["covered"]) == {"processor", "power_stage"}
    # the battery, which no plate touches, decides: the place moves the worst margin by nothing
    assert facts["leaders"][0]["exact_worst_part"] == "battery"
    assert facts["leaders"][0]["exact_worst_margin_k"] == pytest.approx(facts["now"]["worst_margin_k"], abs=0.1)
    assert (tmp_path / "place.json").stat().st_size < 1e6
    assert json.loads((tmp_path / "place.json").read_text())["study"] == "place"

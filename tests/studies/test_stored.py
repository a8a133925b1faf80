"""Facts of studies are found again for the very case they tell of, and for no other."""

import json
from pathlib import Path

import pytest

from thermsim.case import Case
from thermsim.studies.stored import STUDIES, store, stored

TEXT = """
[case]
title = "a box"
[room]
temperature = "20 degC"
[sheet.board]
corner = "0, 0 mm"
size = "50 x 50 mm"
thickness = "2 mm"
conductivity = "20 W/mK"
heat_capacity = "20 J/K"
[part.chip]
on = "sheet.board"
centre = "25, 25 mm"
size = "10 x 10 mm"
watts = "2 W"
to_board = "1 K/W"
heat_capacity = "1 J/K"
[film.top]
on = "sheet.board"
to = "room"
law = "fixed"
h = "10 W/m2K"
[option.hotter]
set = { "part.chip.watts" = "3 W" }
"""


@pytest.fixture
def case() -> Case:
    return Case.from_text(TEXT)


@pytest.mark.parametrize("study", STUDIES)
def test_facts_come_back_as_they_were(case: Case, tmp_path: Path, study: str) -> None:
    facts = {"study": study, "answer": ["20 °C is enough"], "value": 1.25}
    path = store(tmp_path / "new", case, facts)
    assert path == tmp_path / "new" / f"{study}.json"
    again = stored(tmp_path / "new", case)[study]
    assert {key: again[key] for key in facts} == facts
    assert set(again) - set(facts) == {"stamp"}


def test_they_hold_for_the_file_whatever_the_option(case: Case, tmp_path: Path) -> None:
    store(tmp_path, case.with_option("hotter"), {"study": "sweep"})
    assert set(stored(tmp_path, case)) == {"sweep"}


def test_they_hold_for_no_other_case(case: Case, tmp_path: Path) -> None:
    store(tmp_path, case, {"study": "chill"})
    assert stored(tmp_path, case.with_changes({"part.chip.watts": "2.5 W"})) == {}
    assert stored(tmp_path, Case.from_text(TEXT.replace('"3 W"', '"4 W"'))) == {}  # in an option only
    assert set(stored(tmp_path, Case.from_text(TEXT))) == {"chill"}


def test_a_flag_of_the_study_makes_no_other_case(case: Case, tmp_path: Path) -> None:
    store(tmp_path, case.with_changes({"chill.low": "8 degC"}), {"study": "chill"})
    assert set(stored(tmp_path, case)) == {"chill"}


def test_what_is_cut_short_or_of_another_version_is_passed_over(case: Case, tmp_path: Path) -> None:
    path = store(tmp_path, case, {"study": "chill"})
    told = json.loads(path.read_text())
    path.write_text(json.dumps(told | {"stamp": told["stamp"] | {"thermsim": "0.0.0"}}))
    assert stored(tmp_path, case) == {}
    path.write_text(json.dumps(told)[:-4])
    assert stored(tmp_path, case) == {}
    assert stored(tmp_path / "nowhere", case) == {}


@pytest.mark.parametrize("change", [{"answer": ["\x1b[2J"]}, {"answer": 5}, {"more": 1}, {"study": "place"}])
def test_facts_changed_by_hand_are_passed_over(case: Case, tmp_path: Path, change: dict) -> None:
    """Else a terminal would obey what stands in them, and the page would fail on what is missing."""
    path = store(tmp_path, case, {"study": "chill", "answer": ["cold"], "rows": {2: 1.5, 10: 0.1}})
    told = json.loads(path.read_text())
    assert set(stored(tmp_path, case)) == {"chill"}
    path.write_text(json.dumps(told | change))
    assert stored(tmp_path, case) == {}
    path.write_text(json.dumps({key: told[key] for key in ("study", "stamp")}))
    assert stored(tmp_path, case) == {}


def test_a_study_of_logs_goes_stale_with_its_logs(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(TEXT + '[bench.run.one]\nfile = "one.csv"\n', encoding="utf-8")
    log, case = tmp_path / "one.csv", Case.load(tmp_path)
    log.write_text("Time,room\n0,20\n", encoding="utf-8")
    for study in ("bench", "fit", "leak"):
        store(tmp_path / "out", case, {"study": study})
    assert set(stored(tmp_path / "out", case)) == {"bench", "fit", "leak"}
    log.write_text("Time,room\n0,21\n", encoding="utf-8")
    assert set(stored(tmp_path / "out", case)) == {"leak"}  # which reads another log

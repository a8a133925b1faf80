"""`thermsim report` makes every study that is missing and one page of them all."""

import json
from pathlib import Path

import pytest
from case_with_a_loop import CASE
from click.testing import CliRunner, Result

from thermsim.case import Case, load_case
from thermsim.cli import cli
from thermsim.commands.report import studies_of
from thermsim.report.page.write import write_case_page
from thermsim.studies.stored import stored
from thermsim.studies.where import Where

HEIGHTS = {"chip_one": "2 mm", "adc1": "1.5 mm", "adc2": "1.5 mm", "adc3": "1.5 mm"}
PLACE = """
[place]
option = "liquid"
plate = "plate.main"
pitch = "10 mm"
size = "60 x 40 mm"
layout = "serpentine"
leaders = 1
clearance = "30 mm"
pad = { conductivity = "3 W/mK", thickness_min = "0.3 mm", thickness_max = "1.5 mm" }
"""
STILL = """
[case]
title = "a board in a room"
[room]
temperature = "20 degC"
[run]
duration = "5 min"
cell = "10 mm"
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
watts = "1 W"
limit = "90 degC"
to_board = "1 K/W"
heat_capacity = "1 J/K"
[film.top]
on = "sheet.board"
to = "room"
law = "fixed"
h = "10 W/m2K"
"""


@pytest.fixture
def case_file(tmp_path: Path) -> Path:
    text = CASE
    for part, height in HEIGHTS.items():
        text = text.replace(f"[part.{part}]\n", f'[part.{part}]\nheight = "{height}"\n')
    path = tmp_path / "case.toml"
    path.write_text(text + PLACE, encoding="utf-8")
    return path


def report(*arguments: str) -> Result:
    return CliRunner().invoke(cli, ["report", *arguments])


def test_nothing_stored_is_told_so(case_file: Path, tmp_path: Path) -> None:
    done = report(str(case_file), "-o", str(tmp_path / "out"), "--stored")
    assert done.exit_code == 2
    assert "holds no finished option of this case; run `thermsim compare` first" in done.output
    assert not (tmp_path / "out" / "page.html").exists()
    assert write_case_page(load_case(case_file), tmp_path / "out") is None


def test_a_box_without_an_airway_has_its_page_too(tmp_path: Path) -> None:
    """No air from outside, no study of chilled air: it would end the call, and what follows would not be done."""
    still = Case.from_text(STILL)
    assert list(studies_of(still, tmp_path, Where())) == ["compare", "mishap", "sweep"]
    assert "chill" in studies_of(Case.from_text(CASE), tmp_path, Where())
    path = tmp_path / "case.toml"
    path.write_text(STILL)
    done = report(str(path), "-j", "1", "-o", str(tmp_path / "out"))
    assert done.exit_code == 0, done.output
    assert (tmp_path / "out" / "page.html").is_file()


@pytest.mark.slow
def test_one_call_makes_the_whole_page(case_file: Path, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    case = load_case(case_file)
    done = report(str(case_file), "-o", str(folder), "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.output)
    # no option has heat pipes, and nothing was logged on a bench
    assert list(told["answers"]) == ["compare", "chill", "place", "loop", "mishap", "sweep"]
    assert told["page"] == str(folder / "page.html")
    text = (folder / "page.html").read_text(encoding="utf-8")
    for section in ("answer", "views", "chill", "place", "loop", "mishap", "sweep", "heat", "parts", "basis"):
        assert f'<section id="{section}"' in text
    assert '<section id="trials"' not in text  # there is no cheap step
    assert stored(folder, case)["sweep"]["option"] == "liquid"  # the one that ranks first
    before = {study: (folder / f"{study}.json").read_bytes() for study in told["answers"]}
    again = report(str(case_file), "-o", str(folder))
    assert again.exit_code == 0
    assert before == {study: (folder / f"{study}.json").read_bytes() for study in told["answers"]}
    assert "open it in a browser" in again.output
    for facts in stored(folder, case).values():
        assert facts["answer"][0] in " ".join(again.output.split())

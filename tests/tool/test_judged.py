"""What is judged in the end: limits, noise and governors, where a run ends before its heat does."""

import pytest

from thermsim.case import Case
from thermsim.report.text import noise_lines
from thermsim.studies.run import run
from thermsim.studies.summary import worst_degc


@pytest.mark.parametrize(
    ("peak", "end", "limit", "rests", "worst"),
    [
        (60.0, 70.0, 80.0, True, 70.0),  # still warming: where it would settle
        (60.0, 90.0, 80.0, True, 90.0),
        (85.0, 600.0, 80.0, True, 85.0),  # over it already: what the run saw
        (60.0, 90.0, 80.0, False, 60.0),  # the inputs never stand still: what the run saw
        (60.0, None, 80.0, True, 60.0),
    ],
)
def test_a_limit_is_judged_by_the_run_or_by_where_it_leads(peak, end, limit, rests, worst):
    assert worst_degc(peak, end, limit, rests) == worst


def test_a_noise_must_have_cannot_be_told_where_no_noise_is_stated(small_file, tmp_path):
    text = small_file.read_text(encoding="utf-8").replace('noise = "25 dB(A)"\n', "")
    summary = run(Case.from_text(text), tmp_path).summary
    assert summary["noise"]["with_room_dba"] is None
    assert next(must for must in summary["must_haves"] if must["name"] == "quiet")["met"] is None


def test_a_fan_tells_its_turns_and_tone(small_file, tmp_path):
    text = small_file.read_text(encoding="utf-8")
    text = text.replace(
        'noise = "25 dB(A)"', 'noise = "25 dB(A)"\nrated_speed = "3000 rpm"\nblades = 7\nspeed = "80 %"'
    )
    summary = run(Case.from_text(text, option="full speed"), tmp_path).summary
    # 0.8 of 3000 rpm; 7 blades pass 40 times a second
    assert summary["fans"]["fan.one"] == pytest.approx({"speed": 0.8, "rev_per_min": 2400.0, "blade_tone_hz": 280.0})
    assert "fan.one 80 % (2400 rpm, tone 280 Hz)" in noise_lines(summary)[1]


def test_two_films_on_one_face_are_pointed_out(small_file):
    text = small_file.read_text(encoding="utf-8")
    text += '\n[film.again]\non = "sheet.board"\nlaw = "fixed"\nh = "3 W/m2K"\n'
    case = Case.from_text(text)
    assert [problem.message for problem in case.warnings] == ["the top of sheet.board has film.top too; both count"]

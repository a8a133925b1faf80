"""Logs that can be mended: what is left, and the words that say what was done."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from tests.bench.log_files import COLUMNS, HEAD, PLAIN, ROWS, STAMPED, read
from thermsim.bench.logs.read import read_log
from thermsim.case.benching import Layout

LINES = ROWS.splitlines(keepends=True)


def stamped(begin, shift):
    """Thirty rows ten seconds apart, the clock moved by `shift` s from the thirteenth on."""
    times = [begin + timedelta(seconds=10 * k + (shift if k >= 12 else 0)) for k in range(30)]
    return STAMPED + "".join(f"{time.isoformat(sep=' ')},31,25,22\n" for time in times)


MENDED = {
    "preamble": ("Serial;0001\nInterval;10 s\n\n" + PLAIN, 8, "3 lines before the headers: skipped"),
    "headers again": (PLAIN + HEAD + "80,31,26,22\n", 9, "headers once more in 1 line, first line 10: skipped"),
    "remarks": (PLAIN + "# lid opened\n80,31,26,22\n", 9, "1 remark between rows, first line 10: skipped"),
    "torn row": (PLAIN + "80,31\n90,31,26,22\n", 9, "1 row with too few cells, first line 10: dropped"),
    "cut off": (PLAIN + "80,31,2", 8, "the last row, line 10, is cut off: dropped"),
    "cut off in its last cell": (PLAIN + "80,31.00,25.00,22.", 8, "the last row, line 10, is cut off: dropped"),
    "out of place": (
        HEAD + "".join(LINES[k] for k in (0, 1, 3, 2, 4, 5, 7, 6)), 8,
        "2 rows out of place, first line 5: sorted by time",
    ),
    "newest first": (HEAD + "".join(LINES[::-1]), 8, "the newest row comes first: turned round"),
    "halves exchanged": (
        STAMPED + "".join(f"2026-03-01 1{hour}:{m:02d}:00,31,25,22\n" for hour in (1, 0) for m in range(60)), 120,
        "2 parts of the log not in the order of time, first line 62: sorted",
    ),
    "row twice": (PLAIN + LINES[-1], 8, "1 row given twice, first line 10: dropped"),
    "time twice": (
        PLAIN + "70,32,26,22\n", 8, "1 row with the time of another and other readings, first line 10: averaged",
    ),
    "summer time ends": (
        stamped(datetime(2026, 10, 25, 2, 58), -3600), 30,
        "the clock goes back by an hour at line 14: an hour added from there",
    ),
    "summer time begins": (
        stamped(datetime(2026, 3, 29, 1, 58), 3600), 30,
        "the clock goes forward by an hour at line 14: an hour taken off from there",
    ),
    "midnight": (
        STAMPED + "".join(f"{h}:{m:02d}:00,31,25,22\n" for h in (23, 0) for m in range(60)), 120,
        "the time of day passes midnight at line 62: a day added from there",
    ),
    "overload": (
        PLAIN + "80,OL,26,22\n90,---,26,22\n", 10,
        'column "FPGA [°C]": 2 cells without a reading ("OL"), first line 10: missing',
    ),
    "broken sensor": (
        PLAIN + "80,31,-9999,22\n90,31,9.9E+37,22\n", 10,
        'column "Link [°C]": 2 cells without a reading ("-9999"), first line 10: missing',
    ),
    "open sensor": (PLAIN + "80,850,26,22\n", 9, 'column "FPGA [°C]": 1 reading that cannot be (850): dropped'),
    "columns of others": (
        PLAIN.replace("Link", "Other"), 8, 'columns of no channel in the case, left out: "Other [°C]"',
    ),
    "columns missing": (PLAIN.replace("Link", "Other"), 8, 'columns not in this log: "Link"'),
}  # fmt: skip


@pytest.mark.parametrize("kind", MENDED)
def test_mended(kind, tmp_path):
    data, readings, words = MENDED[kind]
    log = read(tmp_path, data)
    assert words in log.mended
    assert len(log.mended) == (2 if kind.startswith("columns") else 1)
    assert log.time.size == readings
    assert (np.diff(log.time) > 0).all()


def test_what_cannot_be_is_missing(tmp_path):
    log = read(tmp_path, PLAIN + "80,850,-9999,22\n")
    assert np.isnan(log.readings["part.fpga"][-1])
    assert np.isnan(log.readings["part.link"][-1])


def test_a_sound_log_has_nothing_to_tell(tmp_path):
    log = read(tmp_path, PLAIN)
    assert log.mended == log.doubts == ()


def test_readings_follow_their_times_when_rows_are_sorted(tmp_path):
    sound = read(tmp_path, PLAIN)
    for mixed in (LINES[::-1], [*LINES[:3], LINES[4], LINES[3], *LINES[5:]]):
        log = read(tmp_path, HEAD + "".join(mixed))
        np.testing.assert_array_equal(log.time, sound.time)
        for channel, values in sound.readings.items():
            np.testing.assert_array_equal(log.readings[channel], values)


def test_the_mean_of_a_time_given_twice(tmp_path):
    log = read(tmp_path, PLAIN + "70,32.70,,22.00\n")
    assert log.readings["part.fpga"][-1] == pytest.approx((30.70 + 32.70) / 2)
    assert log.readings["part.link"][-1] == 25.35  # one of the two is missing


def test_an_hour_put_right_leaves_even_steps(tmp_path):
    for begin, shift in ((datetime(2026, 10, 25, 2, 58), -3600), (datetime(2026, 3, 29, 1, 58), 3600)):
        log = read(tmp_path, stamped(begin, shift))
        np.testing.assert_array_equal(np.diff(log.time), 10.0)


def test_an_hour_forward_on_another_day_is_a_gap(tmp_path):
    log = read(tmp_path, stamped(datetime(2026, 3, 25, 1, 58), 3600))
    assert log.mended == ()
    assert log.doubts == ("no readings for 60.2 min after line 13",)


def test_gaps_are_told_and_not_filled(tmp_path):
    log = read(tmp_path, PLAIN + "".join(f"{1000 + 10 * k},31,26,22\n" for k in range(3)) + "2000,31,26,22\n")
    assert log.doubts == ("2 gaps without readings, the longest 16.3 min after line 12",)
    assert log.time.size == 12


def test_readings_before_switch_on_are_left_out(tmp_path):
    for on_at in ("30", "30 s", "0.5 min"):
        log = read(tmp_path, PLAIN, on_at=on_at)
        assert log.mended == ("3 readings before switch-on: left out",)
        np.testing.assert_array_equal(log.time, [0, 10, 20, 30, 40])
        assert log.readings["part.fpga"][0] == 30.30


def test_empty_cells_are_missing_without_a_word(tmp_path):
    log = read(tmp_path, PLAIN + "80,31,,22\n")
    assert log.mended == ()
    assert np.isnan(log.readings["part.link"][-1])


def test_a_column_without_a_reading_is_doubted(tmp_path):
    log = read(tmp_path, HEAD + "0,,25,22\n10,,25,22\n")
    assert log.doubts == ('column "FPGA [°C]" holds no reading',)


def test_thousands_of_blank_cells_behind_the_rows(tmp_path):
    log = read(tmp_path, PLAIN.replace("\n", "," * 3000 + "\n"))
    assert log.time.size == 8
    assert log.mended == ()


def test_a_last_line_without_an_end_is_kept_where_it_is_whole(tmp_path):
    assert read(tmp_path, PLAIN.rstrip("\n")).time.size == 8


def test_several_probes_of_the_room(tmp_path):
    columns = {**COLUMNS, "Room 2": "room", "Room 3": "room"}
    head = HEAD.strip() + ",Room 2 [°C],Room 3 [°C]\n"
    log = read(
        tmp_path, head + "0,31,25,22,22.3,22.6\n10,31,25,22,,22.6\n20,31,25,22,,\n30,31,25,,,\n", columns=columns
    )
    np.testing.assert_allclose(log.readings["room"], [22.3, 22.3, 22.0, np.nan])
    np.testing.assert_allclose(log.room_spread, [0.3, 0.6 / 2**0.5, np.nan, np.nan])  # n − 1 in the denominator
    assert log.room_probes.shape == (3, 4)


def test_units_behind_the_numbers(tmp_path):
    said = PLAIN.replace("[°C]", "[degC]")
    log = read(tmp_path, said + "80,31.5 °C,26.5°C,22 celsius\n90,--- °C,26,22\n")
    assert [log.readings[name][8] for name in ("part.fpga", "part.link", "room")] == [31.5, 26.5, 22.0]
    assert np.isnan(log.readings["part.fpga"][9])
    assert 'column "FPGA [degC]": 1 cell without a reading ("---"), first line 11: missing' in log.mended


def test_units_behind_decimal_commas(tmp_path):
    rows = "".join(f"{10 * k};{30 + k},5 °C;25,0 °C;22,0 °C\n" for k in range(8))
    assert read(tmp_path, HEAD.replace(",", ";") + rows).readings["part.fpga"][0] == 30.5


def test_columns_of_what_did_not_stand_there(tmp_path):
    path = tmp_path / "run.csv"
    path.write_text(PLAIN.replace("Link", "Other"))
    log = read_log(path, Layout(columns=COLUMNS), elsewhere={"part.link"})
    assert log.mended == ('columns of no channel in the case, left out: "Other [°C]"',)

"""Logs that cannot be read, or could be read in two ways: one message with file, line and column, never a guess."""

from datetime import datetime, timedelta

import pytest

from tests.bench.log_files import COLUMNS, HEAD, PLAIN, ROWS, STAMPED, read
from thermsim.bench.logs.read import read_log
from thermsim.case.benching import Layout
from thermsim.case.errors import CaseError

SEMI = PLAIN.replace(",", ";")


def stamps(seconds, fall=0.0):
    """Rows ten seconds apart whose clock falls back at the thirteenth."""
    begin = datetime(2026, 3, 29, 1, 58)
    times = [begin + timedelta(seconds=10 * k - (fall if k >= 12 else 0)) for k in range(seconds)]
    return STAMPED + "".join(f"{time.isoformat(sep=' ')},30,25,22\n" for time in times)


REFUSED = {
    "empty": ("", {}, "run.csv: is empty"),
    "blank": (" \n\n", {}, "run.csv: is empty"),
    "binary": (b"\x01\x00\x02\x00\x00\x00abc\n", {}, "run.csv: is not text (byte 2 is zero); export it as CSV"),
    "spreadsheet": (b"PK\x03\x04abc", {}, "run.csv: is a spreadsheet or archive, not text; export it as CSV"),
    "compressed": (b"\x1f\x8b\x08\x00abc", {}, "run.csv: is compressed, not text; export it as CSV"),
    "no lines": (b"x" * 1_100_000, {}, "run.csv: has no end of line in its first megabyte; not a log"),
    "other encoding": (
        PLAIN.encode("cp1252"), {},
        'run.csv:1: character 16 is byte 0xB0, which is not UTF-8; say which encoding it is, such as '
        'encoding = "cp1252"',
    ),
    "other encoding, later": (
        PLAIN.encode() + b"80,31,\xff,22\n", {},
        'run.csv:10: character 7 is byte 0xFF, which is not UTF-8; say which encoding it is, such as '
        'encoding = "cp1252"',
    ),
    "cut UTF-16": (
        PLAIN.encode("utf-16")[:-1], {}, "run.csv: is cut off, or is not UTF-16 text (truncated data)",
    ),
    "no headers": (
        ROWS, {}, "run.csv: no row of its first 8 lines has a header that the case knows; this log has no headers",
    ),
    "other headers": (
        "t,a,b\n1,2,3\n", {},
        'run.csv: no row of its first 2 lines has a header that the case knows; this log has "t", "a", "b"',
    ),
    "no columns in the case": (
        PLAIN, {"columns": {}},
        'run.csv: the case says what no column is: columns = { "HEADER" = "part.NAME" } in [bench]; this log has '
        '"Time [s]", "FPGA [°C]", "Link [°C]", "Room [°C]"',
    ),
    "only headers": (HEAD, {}, "run.csv:1: has no readings under its headers"),
    "one reading a row": (
        "time,channel,value\n" + "".join(f"{k},{name},22.5\n" for k in range(4) for name in ("FPGA", "Link")), {},
        'run.csv:2: holds one reading a row, and its cell 2 says of what ("FPGA", "Link"); write one row for each time '
        "with a column for each channel (a pivot table in a spreadsheet does that)",
    ),
    "another unit in a cell": (
        PLAIN + "80,88.7 °F,26,22\n", {}, 'run.csv:10: column "FPGA [°C]": "88.7 °F" is in °F, its column in °C',
    ),
    "misspelt header": (
        PLAIN.replace("FPGA", "FPAG"), {},
        'run.csv:1: column "FPGA": is not in this log; did you mean "FPAG [°C]"? If not, map that to its channel or '
        'to "ignore"',
    ),
    "no unit": (
        PLAIN.replace("FPGA [°C]", "FPGA"), {},
        'run.csv:1: column "FPGA": has no unit: say units = { "FPGA" = "degC" } or unit = "degC" for all',
    ),
    "volts for degrees": (
        PLAIN.replace("FPGA [°C]", "FPGA [V]"), {},
        "run.csv:1: column \"FPGA [V]\": mapped to part.fpga: 'V' is a voltage; expected a temperature, for example "
        '"23 degC"',
    ),
    "strange unit": (
        PLAIN.replace("FPGA [°C]", "FPGA [grd]"), {},
        'run.csv:1: column "FPGA [grd]": "grd" is no unit known here: say units = { "FPGA [grd]" = "degC" }',
    ),
    "two such headers": (
        "Time [s],FPGA [°C],FPGA [V]\n0,31,2\n", {},
        'run.csv:1: column "FPGA": may be "FPGA [°C]" or "FPGA [V]": name it with its unit',
    ),
    "one header twice": (
        "Time [s],FPGA [°C],FPGA [°C]\n0,31,2\n", {},
        'run.csv:1: column "FPGA": heads 2 columns; give each its own header',
    ),
    "one channel twice": (
        "Time [s],A [°C],B [°C]\n0,31,32\n", {"columns": {"A": "part.fpga", "B": "part.fpga"}},
        'run.csv:1: column "B [°C]": part.fpga is column "A [°C]" too',
    ),
    "revolutions": (
        "Time [s],fan [rpm]\n0,1800\n", {"columns": {"fan": "fan.pair"}},
        'run.csv:1: column "fan [rpm]": is in revolutions, and the case states no rated_speed of fan.pair',
    ),
    "text": (PLAIN + "80,warm,25,22\n", {}, 'run.csv:10: column "FPGA [°C]": "warm" is not a number'),
    "underscore": (PLAIN + "80,3_1,25,22\n", {}, 'run.csv:10: column "FPGA [°C]": "3_1" is not a number'),
    "two decimal signs": (
        SEMI + "80;31,5;25;22\n", {},
        'run.csv:10: column "FPGA [°C]": "31,5" after "30.00": which decimal sign? Say decimal = "." or decimal = ","',
    ),
    "another decimal sign, far down": (
        SEMI + "".join(f"{80 + k};30.5;25;22\n" for k in range(5000)) + "9000;31,5;25;22\n", {},
        'run.csv:5010: column "FPGA [°C]": "31,5" has a comma, which numbers before it have not: say decimal = "." or '
        'decimal = ","',
    ),
    "thousands, far down": (
        SEMI + "".join(f"{80 + k};30.5;25;22\n" for k in range(5000)) + "9000;1,031.5;25;22\n", {},
        'run.csv:5010: column "FPGA [°C]": "1,031.5" has a comma, which numbers before it have not: say decimal = "." '
        'or decimal = ","',
    ),
    "not of the stated decimal sign": (
        SEMI, {"decimal": ","}, 'run.csv:2: column "FPGA [°C]": "30.00" is not a number with decimal = ","',
    ),
    "decimals or thousands": (
        HEAD.replace(",", ";") + "0;31,500;25;22\n", {},
        'run.csv:2: column "FPGA [°C]": "31,500" may be 31.500 or 31500: say decimal = "," or decimal = "."',
    ),
    "commas between commas": (
        HEAD + "0,31,5,25,0,22,1\n", {},
        "run.csv:2: has 7 cells, the headers are 4; numbers with decimal commas need quotation marks, or another "
        "delimiter",
    ),
    "too many cells": (SEMI + "80;31;25;22;1\n", {}, "run.csv:10: has 5 cells, the headers are 4"),
    "too few cells, often": (
        HEAD + "".join(f"{k},30,25{',22' if k % 3 == 0 else ''}\n" for k in range(30)), {},
        "run.csv:3: has 3 cells, the headers are 4; so with 20 rows",
    ),
    "open quotation mark": (
        PLAIN + '80,"31,25,22\n90,31,25,22\n', {}, "run.csv:10: has a quotation mark that is not closed on its line",
    ),
    "time without unit": (
        STAMPED + ROWS, {},
        'run.csv:2: column "Time": "0" has no unit: say units = { "Time" = "s" }, or "min", or "h"',
    ),
    "no unit of time": (
        PLAIN.replace("Time [s]", "Time [V]"), {},
        'run.csv:1: column "Time [V]": "V" is no unit of time; is this the time? Say `time`',
    ),
    "no such time": (
        PLAIN, {"time": ["Tme"]}, 'run.csv:1: column "Tme": the time is not in this log; did you mean "Time"?',
    ),
    "minutes or hours": (
        STAMPED + "0:10,31,25,22\n", {},
        'run.csv:2: column "Time": "0:10" may be minutes or hours: say units = { "Time" = "mm:ss" }, or "h:mm"',
    ),
    "day or month": (
        STAMPED + "03/04/2026 10:00:00,31,25,22\n", {},
        'run.csv:2: column "Time": "03/04/2026 10:00:00": is day or month first? Say time_format = '
        '"%d/%m/%Y %H:%M:%S" or "%m/%d/%Y %H:%M:%S"',
    ),
    "forenoon or afternoon": (
        STAMPED + "3/4/26 1:00:00 PM,31,25,22\n", {},
        'run.csv:2: column "Time": "3/4/26 1:00:00 PM": is day or month first? Say time_format = '
        '"%d/%m/%y %I:%M:%S %p" or "%m/%d/%y %I:%M:%S %p"',
    ),
    "date alone": (
        STAMPED + "2026-03-01,31,25,22\n", {},
        'run.csv:2: column "Time": "2026-03-01" is a date alone; with the time of day in its own column say '
        'time = ["DATE", "TIME"]',
    ),
    "no such month": (
        STAMPED + "2026-13-01 10:00:00,31,25,22\n", {},
        'run.csv:2: column "Time": "2026-13-01 10:00:00" is no time (month must be in 1..12)',
    ),
    "another form": (
        STAMPED + "03.14.2026 10:00:00,31,25,22\n", {"time_format": "%d.%m.%Y %H:%M:%S"},
        'run.csv:2: column "Time": "03.14.2026 10:00:00" is not of the form time_format = "%d.%m.%Y %H:%M:%S"',
    ),
    "a form without a year": (
        STAMPED + "10:00,31,25,22\n", {"time_format": "%H:%M"},
        'run.csv:2: column "Time": time_format = "%H:%M" tells no year',
    ),
    "offset and none": (
        STAMPED + "2026-03-01T10:00:00Z,31,25,22\n2026-03-01T10:00:10,31,25,22\n", {},
        'run.csv:3: column "Time": "2026-03-01T10:00:10" is no time such as those before it',
    ),
    "text for time": (
        PLAIN + "Maximum,31,25,22\n", {}, 'run.csv:10: column "Time [s]": "Maximum" is no time such as those before it',
    ),
    "started again": (
        PLAIN + ROWS, {},
        'run.csv:10: column "Time [s]": falls back by 70 s to where it began: the logger was started again; cut the '
        "log there",
    ),
    "two runs": (
        HEAD + "".join(f"{2000 + k - (60 if k >= 100 else 0)},31,{k},22\n" for k in range(190)), {},
        'run.csv:102: column "Time [s]": goes back in time, and 59 rows are before others above: two runs in one log? '
        "Cut it there",
    ),
    "clock set": (
        stamps(30, fall=200 * 3600.0), {},
        'run.csv:14: column "Time": falls back by 200 h: the logger\'s clock was set; cut the log there',
    ),
    "to the minute": (
        STAMPED + "".join(f"2026-03-01 10:0{k // 6},{30 + k / 10},25,22\n" for k in range(30)), {},
        'run.csv:3: column "Time": is the time of the row before, with other readings; so with 25 rows: times go to '
        "the minute only, export them with seconds",
    ),
    "kelvin for degrees": (
        HEAD + "".join(f"{k},295,25,22\n" for k in range(20)), {},
        'run.csv:1: column "FPGA [°C]": reads 295 °C for the most part: say its unit in `units`, or leave it out',
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSED)
def test_refused(kind, tmp_path):
    data, layout, message = REFUSED[kind]
    with pytest.raises(CaseError) as caught:
        read(tmp_path, data, **layout)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("on_at", "message"),
    [
        ("soon", 'on_at: "soon" is neither a time as this log writes it nor such as "30 s"'),
        ("30 min", 'on_at: "30 min" is after the log'),
        ("-5", 'on_at: "-5" is before the log'),
    ],
)
def test_a_switch_on_that_is_not_in_the_log(on_at, message, tmp_path):
    with pytest.raises(CaseError) as caught:
        read(tmp_path, PLAIN, on_at=on_at)
    assert str(caught.value) == f"run.csv: {message}"


def test_what_is_no_file(tmp_path):
    (tmp_path / "logs").mkdir()
    for path, message in ((tmp_path / "logs", "logs: is a folder; expected a CSV file"),
                          (tmp_path / "no.csv", f"{tmp_path / 'no.csv'}: no such file")):  # fmt: skip
        with pytest.raises(CaseError) as caught:
            read_log(path, Layout(columns=COLUMNS))
        assert str(caught.value) == message


def test_a_huge_file_is_refused_before_it_is_read(tmp_path, monkeypatch):
    monkeypatch.setattr("thermsim.bench.logs.opening.LARGEST_BYTES", 100)
    with pytest.raises(CaseError, match="is larger than 0 MB; store fewer readings, or cut it"):
        read(tmp_path, PLAIN)
    monkeypatch.undo()
    monkeypatch.setattr("thermsim.bench.logs.rows.MOST_ROWS", 5)
    with pytest.raises(CaseError, match="has more than 5 rows"):
        read(tmp_path, PLAIN)

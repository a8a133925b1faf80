"""One log in any of the forms in which loggers write it is the same log; and reading costs little."""

import tracemalloc
from datetime import UTC, datetime, timedelta
from time import process_time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.log_files import COLUMNS, HEAD, PLAIN, STAMPED, read
from thermsim.bench.logs.headers import take_apart
from thermsim.bench.logs.log import told
from thermsim.bench.logs.read import read_log
from thermsim.case.benching import Layout
from thermsim.case.errors import CaseError

BEGAN = datetime(2026, 3, 1, 23, 59, 30)
LOCAL = "%d.%m.%Y %H:%M:%S"
KELVIN = 273.15  # SI Brochure, 9th edition, 2.3.1

# unit and settings of the time, and how a time in s is written
TIMES = {
    "seconds": ("[s]", {}, lambda t: f"{t}"),
    "minutes": ("(min)", {}, lambda t: f"{t / 60:.8f}"),
    "h:mm:ss": ("", {}, lambda t: f"{t // 3600}:{t // 60 % 60:02d}:{t % 60:02d}"),
    "mm:ss": ("[mm:ss]", {}, lambda t: f"{t // 60}:{t % 60:02d}"),
    "ISO": ("", {}, lambda t: (BEGAN + timedelta(seconds=t)).isoformat()),
    "ISO, offset": ("", {}, lambda t: (BEGAN + timedelta(seconds=t)).isoformat(sep=" ") + "+02:00"),
    "ISO, UTC": ("", {}, lambda t: (BEGAN + timedelta(seconds=t)).isoformat() + "Z"),
    "local": ("", {"time_format": LOCAL}, lambda t: (BEGAN + timedelta(seconds=t)).strftime(LOCAL)),
}  # fmt: skip
# how a header shows its unit, and what the numbers are in it
DEGREES = {
    "[°C]": lambda t: t,
    "(degC)": lambda t: t,
    "/ °F": lambda t: 1.8 * t + 32,
    ", K": lambda t: t + KELVIN,
    "[ºC]": lambda t: t,
}


@settings(max_examples=60, deadline=None)
@given(
    signs=st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), (",", ",")]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"]),
    form=st.sampled_from(sorted(TIMES)),
    degree=st.sampled_from(sorted(DEGREES)),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    quoted=st.booleans(),
    preamble=st.integers(0, 3),
    rows=st.lists(st.tuples(st.integers(1, 300), st.floats(-40, 150), st.floats(0, 90)), min_size=2, max_size=12),
)
def test_every_form_is_the_same_log(signs, encoding, form, degree, end, quoted, preamble, rows, tmp_path_factory):
    delimiter, decimal = signs
    unit, more, written = TIMES[form]
    times = np.cumsum([step for step, _, _ in rows])

    def cell(text, number=False):
        text = text.replace(".", decimal) if number else text
        return f'"{text}"' if quoted or delimiter in text else text

    lines = [f"Logger {k}{delimiter}{k}" for k in range(preamble)]
    lines.append(delimiter.join(map(cell, [f"Time {unit}".strip(), f"FPGA {degree}", f"Room {degree}"])))
    for time, (_, hot, room) in zip(times, rows, strict=True):
        values = [cell(f"{DEGREES[degree](value):.5f}", True) for value in (hot, room)]
        lines.append(delimiter.join([cell(written(int(time)), form == "minutes"), *values]))
    data = (end.join(lines) + end).encode(encoding)
    stated = {"encoding": encoding} if encoding in ("cp1252", "utf-16-le") else {}
    log = read(tmp_path_factory.mktemp("log"), data, columns={"FPGA": "part.fpga", "Room": "room"}, **more, **stated)
    np.testing.assert_allclose(log.time, times - times[0], atol=1e-5)
    np.testing.assert_allclose(log.readings["part.fpga"], [hot for _, hot, _ in rows], atol=2e-5)
    np.testing.assert_allclose(log.readings["room"], [room for _, _, room in rows], atol=2e-5)


def test_stamps_tell_when_it_began(tmp_path):
    log = read(tmp_path, STAMPED + "2026-03-01T10:00:00+02:00,31,25,22\n2026-03-01T10:00:10+02:00,31,25,22\n")
    assert log.began == datetime(2026, 3, 1, 8, tzinfo=UTC)
    log = read(tmp_path, STAMPED + "2026-03-01 10:00:00,31,25,22\n2026-03-01 10:00:10,31,25,22\n", on_at="4 s")
    assert log.began == datetime(2026, 3, 1, 10, 0, 4)
    np.testing.assert_array_equal(log.time, [6.0])


def test_date_and_time_in_two_columns(tmp_path):
    data = "Date;Clock;FPGA [°C]\n2026-03-01;23:59:50;31,5\n2026-03-02;00:00:10;31,6\n"
    log = read(tmp_path, data, time=["Date", "Clock"])
    np.testing.assert_array_equal(log.time, [0, 20])
    assert log.began == datetime(2026, 3, 1, 23, 59, 50)


def test_a_row_of_units_under_the_headers(tmp_path):
    log = read(
        tmp_path, "Time;FPGA;U\ns;°F;mV\n0;50;24000\n10;68;24100\n", columns={"FPGA": "part.fpga", "U": "supply.volts"}
    )
    np.testing.assert_allclose(log.readings["part.fpga"], [10, 20])
    np.testing.assert_allclose(log.readings["supply.volts"], [24, 24.1])


def test_units_of_the_case_go_before_those_of_the_header(tmp_path):
    log = read(tmp_path, PLAIN, units={"FPGA": "degF", "Time": "min"})
    assert log.readings["part.fpga"][0] == pytest.approx((30.0 - 32) / 1.8)
    assert log.time[1] == 600
    assert read(tmp_path, PLAIN.replace("FPGA [°C]", "FPGA"), unit="degC").readings["part.fpga"][0] == 30.0


def test_thousands_where_the_decimal_sign_is_stated(tmp_path):
    data = "Time [s];FPGA [°C];U [mV]\n0;31,5;24.010,5\n10;31,5;24\u00a0011\n20;31,5;-24'012,25\n"
    log = read(tmp_path, data, decimal=",", columns={"FPGA": "part.fpga", "U": "supply.volts"})
    np.testing.assert_allclose(log.readings["supply.volts"], [24.0105, 24.011, -24.01225])


def test_a_point_between_thousands_is_no_decimal_point(tmp_path):
    data = "Time [s];U [mV]\n0;24.010\n10;24.011\n"
    assert read(tmp_path, data, decimal=",", columns={"U": "supply.volts"}).readings["supply.volts"][0] == 24.01
    data = data.replace("24.010", "24,5")
    with pytest.raises(CaseError, match="which decimal sign"):
        read(tmp_path, data, columns={"U": "supply.volts"})


def test_speeds_are_shares_of_the_rated(tmp_path):
    path = tmp_path / "run.csv"
    path.write_text("t [s],fan [rpm],pump [%]\n0,1800,50\n")
    layout = Layout(columns={"fan": "fan.pair", "pump": "pump.outside"})
    log = read_log(path, layout, rated={"fan.pair": 60.0})  # rev/s
    assert log.readings["fan.pair"][0] == pytest.approx(0.5)
    assert log.readings["pump.outside"][0] == pytest.approx(0.5)


def test_words_are_kept_where_they_change(tmp_path):
    rows = "0,31,work,\n10,31,work,\n20,31,idle,lid off\n30,31,,\n40,31,work,lid off\n50,31,work,lid off\n"
    log = read(
        tmp_path, "t [s],FPGA [°C],mode,what\n" + rows, columns={"FPGA": "part.fpga", "mode": "state", "what": "event"}
    )
    assert log.texts == {"state": ((0, "work"), (20, "idle"), (40, "work")),
                         "event": ((20, "lid off"), (40, "lid off"))}  # fmt: skip
    later = log.between(25, 45)
    assert later.texts["state"] == ((20, "idle"), (40, "work"))
    np.testing.assert_array_equal(later.time, [30, 40])


def test_words_at_switch_on(tmp_path):
    data = "t [s],FPGA [°C],mode\n0,31,idle\n10,31,idle\n20,31,work\n"
    log = read(tmp_path, data, on_at="15", columns={"FPGA": "part.fpga", "mode": "state"})
    assert log.texts["state"] == ((0.0, "idle"), (5.0, "work"))


def test_means_over_steps(tmp_path):
    log = read(tmp_path, HEAD + "".join(f"{k},{30 + k},{'' if k < 6 else 25},22\n" for k in (*range(12), 40)))
    mean = log.averaged(5.0)
    np.testing.assert_allclose(mean.time, [2, 7, 10.5, 40])  # nothing between 15 and 40 s
    np.testing.assert_allclose(mean.readings["part.fpga"], [32, 37, 40.5, 70])
    np.testing.assert_allclose(mean.readings["part.link"], [np.nan, 25, 25, 25])
    with pytest.raises(ValueError, match="a step of 0 s"):
        log.averaged(0)


def test_what_is_told_of_a_log(tmp_path):
    facts = told(read(tmp_path, PLAIN + "80,OL,26,22\n"))
    assert facts["readings"] == 9
    assert facts["span_s"] == 80
    assert facts["interval_s"] == 10
    assert facts["columns"]["part.fpga"] == {"readings": 8, "missing": 1}
    assert facts["began"] is None
    assert len(facts["mended"]) == 1


HEADERS = {
    "T1 [°C]": ("T1", "°C"), "T1 (degC)": ("T1", "degC"), "U/V": ("U", "V"), "I, mA": ("I", "mA"), "RH %": ("RH", "%"),
    "LAeq (dB(A))": ("LAeq", "dB(A)"), "Noise dB(A)": ("Noise", "dB(A)"), "Fan 1 [1/min]": ("Fan 1", "1/min"),
    "FPGA deg F": ("FPGA", "deg F"),
    "Fan rpm": ("Fan", "rpm"), "Room ℃": ("Room", "°C"), "Flow [L/min]": ("Flow", "L/min"), "T [Deg C]": ("T", "degC"),
    "in/out": ("in/out", None), "FPGA (die)": ("FPGA (die)", None), "T[1]": ("T[1]", None),
    "Probe 3, left": ("Probe 3, left", None),
    "# Time [s]": ("Time", "s"), "\ufeffTime (sec)": ("Time", "s"), "Air\n[°C]": ("Air", "°C"),
}  # fmt: skip


@pytest.mark.parametrize("header", HEADERS)
def test_headers_taken_apart(header):
    found = take_apart(header)
    assert (found.name, found.unit) == HEADERS[header]


def test_a_loose_word_is_a_unit_only_where_it_fits(tmp_path):
    data = PLAIN.replace("Link [°C]", "Link min").replace("FPGA [°C]", "FPGA °C")
    log = read(tmp_path, data, columns={**COLUMNS, "Link min": "part.link"} | {"Link": "ignore"}, unit="degC")
    assert log.readings["part.link"][0] == 25.0  # the lowest, not minutes
    assert log.readings["part.fpga"][0] == 30.0


@pytest.fixture(scope="module")
def eight_hours(tmp_path_factory):
    """A log of 20 columns and 28,800 rows: a file of 4 MB, numbers of 4.6 MB."""
    rng = np.random.default_rng(5)
    time = np.arange(28_800)
    values = 25 + 30 * (1 - np.exp(-time[:, None] / 900)) * np.linspace(0.2, 1, 20) + rng.normal(0, 0.05, (28_800, 20))
    head = "Time," + ",".join(f"T{k} [°C]" for k in range(20))
    rows = (
        f"{BEGAN + timedelta(seconds=t)}," + ",".join(f"{v:.2f}" for v in row) for t, row in enumerate(values.tolist())
    )
    path = tmp_path_factory.mktemp("log") / "long.csv"
    path.write_text("\n".join([head, *rows]) + "\n")
    return path, Layout(columns={f"T{k}": f"part.p{k}" for k in range(20)}), values


def test_eight_hours_each_second_are_read_at_once(eight_hours):
    path, layout, values = eight_hours
    start = process_time()
    log = read_log(path, layout)
    assert process_time() - start < 2.0
    assert log.time.size == 28_800
    assert log.mended == log.doubts == ()
    np.testing.assert_allclose(log.readings["part.p19"], values[:, 19], atol=0.0051)


@pytest.mark.slow
def test_memory_is_that_of_the_numbers_and_some_thousand_rows(eight_hours):
    path, layout, _ = eight_hours
    tracemalloc.start()
    read_log(path, layout)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 40e6

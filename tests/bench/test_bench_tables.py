"""The `[bench]` tables: channels, units and options that are not there are told with the nearest that is."""

from pathlib import Path

import pytest

from thermsim.bench.logs.runs import runs_of
from thermsim.case.benching import Layout
from thermsim.case.case import Case
from thermsim.case.channels import channels, dimensions_of, split_channel, wrong_channel
from thermsim.case.errors import CaseError

BOX = """
[case]
title = "a board in a stream"
[room]
temperature = "22 degC"
[sheet.board]
corner = "0, 0 mm"
size = "100 x 100 mm"
thickness = "1.6 mm"
conductivity = "25 W/mK"
heat_capacity = "60 J/K"
[part.fpga]
on = "sheet.board"
centre = "50, 50 mm"
size = "30 x 30 mm"
watts = "10 W"
to_board = "1 K/W"
heat_capacity = "20 J/K"
[fan.pair]
curve = ["0 m3/h, 38 Pa", "30 m3/h, 0 Pa"]
rated_speed = "3600 rpm"
[airway.main]
corner = "0, 0 mm"
size = "100 x 100 mm"
height = "20 mm"
fans = ["fan.pair"]
resistance = "0.012 Pa/(m3/h)2"
[film.top]
on = "sheet.board"
face = "top"
to = "airway.main"
law = "fixed"
h = "20 W/m2K"
[option.more.add.probe.rim]
on = "sheet.board"
at = "5, 5 mm"
[option.more.add.fan.second]
curve = ["0 m3/h, 38 Pa", "30 m3/h, 0 Pa"]
rated_speed = "1800 rpm"
"""

WRONG = {
    "columns = { FPGA = 'part.fgpa' }": 'bench.columns.FPGA: there is no part "fgpa"; did you mean "part.fpga"?',
    "columns = { FPGA = 'fpga' }": 'bench.columns.FPGA: "fpga" is no channel; did you mean "part.fpga"?',
    "columns = { T = 'rooms' }": 'bench.columns.T: "rooms" is no channel; did you mean "room"?',
    "columns = { T = 'wall.lid' }": 'bench.columns.T: "wall.lid" is no channel; for example part.NAME, room, '
                                    'airway.NAME.outlet, state or ignore',
    "columns = { T = 'airway.main' }": 'bench.columns.T: "airway.main" does not say which: airway.main.inlet or '
                                       'airway.main.outlet or airway.main.flow',
    "columns = { T = 'airway.man.outlet' }": 'bench.columns.T: there is no airway "man"; did you mean '
                                             '"airway.main.outlet"?',
    "columns = { A = 'part.fpga', B = 'part.fpga' }": 'bench.columns.B: part.fpga is column "A" already; only room may '
                                                      'be several',
    "time = 't'\ncolumns = { t = 'room' }": "bench.columns.t: is the column of the time",
    "time = ['a', 'b', 'c']": "bench.time: at most two columns, of date and of time of day, make up the time",
    "columns = { A = 'room' }\nunits = { A = 'V' }":
        "bench.units.A: 'V' is a voltage; expected a temperature, for example "
                                                     '"23 degC"',
    "columns = { Air = 'room' }\nunits = { Ait = 'K' }":
        'bench.units.Ait: is no column of this case; did you mean "Air"?',
    "columns = { A = 'state' }\nunits = { A = 'K' }": "bench.units.A: state has no unit",
    "time = 't'\nunits = { t = 'K' }": "bench.units.t: 'K' is a temperature; expected a time, for example \"30 min\"",
    "decimal = ';'": "bench.decimal: must be '.' or ','; got \";\"",
    "encoding = 'utf-88'": 'bench.encoding: unknown encoding "utf-88"; for example "utf-8", "utf-16" or "cp1252"',
    "encoding = 'base64'": 'bench.encoding: unknown encoding "base64"; for example "utf-8", "utf-16" or "cp1252"',
    "moved = ['part.fgpa']": 'bench.moved[1]: there is no part "fgpa"; did you mean "part.fpga"?',
    "probe_noise = '0.05 degC'":
        "bench.probe_noise: '0.05 degC' is a temperature; expected a difference, for example \"0.5 K\"",
    "run.one = { stands = 'before' }": "bench.run.one.file: missing",
    "run.one = { file = '' }": "bench.run.one.file: names no file",
    "run.one = { file = 'a.csv', stands = 'first' }": "bench.run.one.stands: must be 'before', 'after' or 'other'; got "
                                                      '"first"',
    "run.one = { file = 'a.csv', option = 'mor' }":
        'bench.run.one.option: there is no option "mor"; did you mean "more"?',
    "run.'a/b' = { file = 'a.csv' }": 'bench.run."a/b": is no usable name: up to 61 letters a to z, digits, spaces and '
                                      "_ . , % ° + -, a letter or digit first",
    "run.one = { file = 'a.csv', columns = { A = 'room', B = 'parts.fpga' } }":
        'bench.run.one.columns.B: "parts.fpga" is no channel; did you mean "part.fpga"?',
}  # fmt: skip


@pytest.mark.parametrize("table", WRONG)
def test_wrong(table):
    with pytest.raises(CaseError) as caught:
        Case.from_text(f"{BOX}\n[bench]\n{table}\n", "box")
    (problem,) = caught.value.problems
    assert f"{problem.key}: {problem.message}" == WRONG[table]
    assert problem.line is not None


def test_what_an_option_adds_may_be_logged():
    case = Case.from_text(
        f"{BOX}[bench]\ncolumns = {{ Rim = 'probe.rim', 'Fan 2' = 'fan.second', R1 = 'room', R2 = 'room' }}\n"
    )
    assert {"probe.rim", "fan.second", "airway.main.outlet", "part.fpga.watts", "room"} <= set(channels(case.spec))
    assert all(wrong_channel(case.spec, channel) is None for channel in channels(case.spec))


def test_channels_taken_apart():
    assert split_channel("airway.main.outlet") == ("airway", "main", "outlet")
    assert split_channel("part.u1.5") == ("part", "u1.5", "")
    assert split_channel("supply.volts") == ("supply", "", "volts")
    assert dimensions_of("fan.pair") == ("fraction", "rotation")
    assert dimensions_of("loop.main.pressure") == ("pressure",)
    assert dimensions_of("loop.main") == ()


def test_keys_of_a_run_go_before_those_of_the_bench():
    bench = Layout(columns={"A": "part.fpga", "R": "room"}, units={"A": "K"}, decimal=",", time=("t",))
    run = Layout(columns={"B": "part.fpga"}, decimal=".", delimiter=";")
    both = bench.of(run)
    assert both.columns == {"R": "room", "B": "part.fpga"}
    assert (both.decimal, both.delimiter, both.time, both.units) == (".", ";", ("t",), {"A": "K"})


def test_runs_with_their_logs(tmp_path):
    bench = """
    [bench.columns]
    FPGA = "part.fpga"
    Fan = "fan.pair"
    Second = "fan.second"
    [bench.run."before 1"]
    file = "logs/a.csv"
    stands = "before"
    option = "base"
    [bench.run.after]
    file = "logs/b.csv"
    stands = "after"
    option = "more"
    on_at = "10 s"
    """
    (tmp_path / "case.toml").write_text(BOX + bench)
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "a.csv").write_text("t [s],FPGA [°C],Fan [rpm],Second [rpm]\n0,30,1800,0\n10,31,1800,0\n")
    (tmp_path / "logs" / "b.csv").write_text("t [s],FPGA [°C],Second [rpm]\n0,30,900\n10,31,900\n20,32,900\n")
    for path in (tmp_path, tmp_path / "case.toml"):
        first, second = runs_of(Case.load(path))
        assert (first.name, first.stands, first.option) == ("before 1", "before", None)
        assert (second.name, second.stands, second.option) == ("after", "after", "more")
        assert first.log.readings["fan.pair"][0] == pytest.approx(0.5)
        assert second.log.readings["fan.second"][0] == pytest.approx(0.5)
        assert second.log.time.tolist() == [0, 10]
        assert second.log is second.log


def test_a_bench_makes_no_other_run_and_need_not_be_there():
    plain, logged = Case.from_text(BOX), Case.from_text(BOX + "[bench]\ncolumns = { A = 'part.fpga' }\n")
    assert runs_of(plain) == []
    assert plain.fingerprint() == logged.fingerprint()
    assert Path() == plain.folder

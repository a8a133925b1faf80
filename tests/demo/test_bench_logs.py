"""The demo's invented logs are what their script writes. Regression only."""

import importlib.util
import sys
from pathlib import Path

import pytest

from thermsim.bench.fit.study import fit
from thermsim.bench.leak.study import leak
from thermsim.bench.logs.runs import runs_of
from thermsim.case import load_case

DEMO = Path(__file__).parents[2] / "cases" / "digitiser"
FOLDER = DEMO / "bench"
LEAK_SCCM = 0.02  # planted
PLANTED = {"joint.fpga_plate.resistance": 0.40, "board films": 0.88, "feet of preamps": 0.5}
FEWER_RUNS = {f'bench.run."{name}"': None for name in ("before 2", "before 3", "after 2")}
FIRST = 60  # lines that are compared
LAST_DIGITS = 0.0101  # of two decimals: a rounding may fall either way on another machine


@pytest.fixture(scope="module")
def script():
    """make_logs.py as a module."""
    spec = importlib.util.spec_from_file_location("make_logs", FOLDER / "make_logs.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_logs"] = module  # for its dataclasses
    spec.loader.exec_module(module)
    yield module
    del sys.modules["make_logs"]


def cells(line: str, form) -> list[str]:
    """Cells of a written line."""
    return line.split(form.delimiter)


def test_script_and_logs_agree(script):
    run = next(run for run in script.RUNS if run.file == "after-1.csv")
    written = (FOLDER / run.file).read_text(encoding=run.form.encoding).splitlines()[len(run.form.preamble) :]
    made = script.with_faults(run, script.rows(run))
    assert len(written) == len(made)
    assert cells(written[0], run.form) == made[0]
    for line, row in zip(written[1:FIRST], made[1:FIRST], strict=True):
        for there, here, header in zip(cells(line, run.form), row, made[0], strict=True):
            if "degC" in header:
                assert float(there) == pytest.approx(float(here), abs=LAST_DIGITS), header
            elif "rpm" not in header:
                assert there == here, header


def test_script_and_leak_logs_agree(script):
    for file in script.CREEP:
        written = (FOLDER / file).read_text(encoding="utf-8").splitlines()[1:]
        assert [line.split("\t") for line in written] == script.leak_rows(file)


def test_logs_say_that_they_are_invented_and_stay_small():
    logs = sorted(FOLDER.glob("*.csv"))
    assert len(logs) == 8
    assert sum(log.stat().st_size for log in logs) < 400_000
    for log in logs:
        assert "invented data" in log.read_text(encoding="utf-8-sig").splitlines()[0], log.name


def test_habits_of_the_loggers_are_told():
    logs = {run.name: run.log for run in runs_of(load_case(DEMO))}
    assert any("no readings for 2.75 min" in text for text in (*logs["before 2"].doubts, *logs["before 2"].mended))
    assert any('"OL"' in text for text in logs["before 3"].mended)
    assert any("ADC 6" in text and "stuck" in text for text in logs["after 2"].mended)
    assert any("given twice" in text for text in logs["after 3"].mended)


def test_the_planted_leak_is_found(tmp_path):
    together = leak(load_case(DEMO), tmp_path)["together"]
    assert together["low_sccm"] < LEAK_SCCM < together["high_sccm"]
    assert together["sccm"] == pytest.approx(LEAK_SCCM, rel=0.2)


@pytest.mark.slow
def test_what_was_planted_is_found(tmp_path):
    facts = fit(load_case(DEMO, changes=FEWER_RUNS), tmp_path)
    for one in facts["unknowns"]:
        planted = PLANTED[one["name"]]
        assert one["low_95"] < planted < one["high_95"], one["name"]
        assert one["value"] == pytest.approx(planted, rel=0.1), one["name"]
    assert facts["held_out"]["inside"]
    assert facts["rms_after_k"] < 0.2 < facts["rms_before_k"]

"""The demo's invented logs are what their script writes. Regression only."""

import importlib.util
import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "cases" / "digitiser" / "bench"
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

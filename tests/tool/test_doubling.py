"""A run again on cells and with steps half as large: what it tells, and that it is the error."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from plain_cases import case_of, film, loop_tables, part, sheet

from thermsim.case import CaseError
from thermsim.cli import cli
from thermsim.model import memory
from thermsim.model.build import build
from thermsim.model.grid import make_grid
from thermsim.report.text import run_text
from thermsim.studies.doubling import finer
from thermsim.studies.run import run

EXACT = 91.688  # K, mean of the source on a sheet, by its double cosine series of 2000 terms a side


TO_BOARD = 200  # K/W: so much that every cell gets its even share


def spread(cell: str, watts: float = 10.0):
    """10 W (or others) on 20 x 20 mm amid a board of 160 x 100 mm, 0.032 W/K in its plane, a film of 20 W/m²K."""
    board = sheet(size="160 x 100 mm", conductivity_through="1e9 W/mK")
    chip = part(
        centre="80, 50 mm", watts=f"{watts} W", to_board=f"{TO_BOARD} K/W", limit="3000 degC", heat_capacity="0.1 J/K"
    )
    return case_of(
        sheet={"b": board}, part={"p": chip}, film={"t": film(h="20 W/m2K")},
        run={"duration": "60 min", "cell": cell, "frames": 3},
    )  # fmt: skip


def test_a_coarse_grid_is_told_and_its_shift_is_its_error(tmp_path):
    case = spread("5 mm")
    (tmp_path / "doubling").mkdir()  # a user's own: nothing of it is taken away
    result = run(case, tmp_path, doubling=True)
    summary = result.summary
    told = summary["doubling"]["parts"]["p"]
    error = EXACT - (summary["parts"]["p"]["steady_degc"] - 22 - 10 * TO_BOARD)
    assert abs(error) > 1.0
    # what is left by Richardson is the exact error, at the second order of the grid
    assert told["order"] == pytest.approx(2.0, abs=0.1)
    assert told["left_k"] == pytest.approx(error, rel=0.02)
    assert told["cells"]["steady_shift_k"] == pytest.approx(0.75 * error, rel=0.05)
    assert told["cells"]["peak_shift_k"] == pytest.approx(told["cells"]["steady_shift_k"], rel=0.02)
    (limit,) = [one for one in summary["limits"] if one["name"] == "cells or steps too coarse"]
    assert limit["where"] == ["part.p"]
    assert f"{abs(told['cells']['steady_shift_k']):.2f} K" in limit["text"]
    assert "run.cell" in limit["text"]
    assert "run.tolerance" not in limit["text"]  # steps are short enough
    assert "doubling: how far cells half as large" in run_text(summary, case.spec)
    assert json.loads((tmp_path / "summary.json").read_text("utf-8")) == summary
    # the doubled runs are not kept
    assert {path.name for path in tmp_path.iterdir()} == {"result.h5", "summary.json", "doubling"}


def test_a_fine_grid_is_not(tmp_path):
    summary = run(spread("5 mm", watts=1.0), tmp_path, doubling=True).summary
    told = summary["doubling"]
    assert abs(told["parts"]["p"]["cells"]["steady_shift_k"]) < 0.5
    assert not [one for one in summary["limits"] if one["name"] == "cells or steps too coarse"]
    assert told["unknowns"][1] == pytest.approx(4 * told["unknowns"][0], rel=0.01)


@pytest.mark.parametrize("engine", ["reduced", "full"])
def test_steps_are_halved_and_told_where_they_are_coarse(tmp_path, engine):
    # a lump with a film alone: T = T_room + P R (1 − e^(−t/τ)), so warm-up to 0.5 K takes τ ln(P R / 0.5)
    tables = {
        "part": {"p": {"watts": "5 W", "heat_capacity": "100 J/K", "size": "50 x 50 mm"}},
        "film": {"p": {"on": "part.p", "law": "fixed", "h": "40 W/m2K"}},
        "run": {"duration": "2 h", "tolerance": "2 K", "frames": 3},
    }
    result = run(case_of(**tables), tmp_path, engine=engine, doubling=True)
    told = result.summary["doubling"]
    assert told["tolerance_k"] == [2.0, 0.25]
    assert 1.5 < told["steps"][1] / told["steps"][0] < 3.5
    exact = 1000 * np.log(50 / 0.5)
    before = result.summary["parts"]["p"]["warm_up_s"]
    after = before + told["parts"]["p"]["steps"]["warm_up_shift_s"]
    assert abs(after - exact) < 0.5 * abs(before - exact)


def test_every_cell_and_segment_is_halved():
    case = case_of(**loop_tables())
    base, fine = build(case), build(finer(case, 1))
    for axis in ("x", "y"):
        lines, halved = getattr(base.site.grid, axis), getattr(fine.site.grid, axis)
        assert halved[::2] == pytest.approx(lines)
        assert np.diff(halved) == pytest.approx(np.repeat(np.diff(lines) / 2, 2))
    for address in ("plate.c coolant", "hose.h"):
        assert fine.numbers(address).size == 2 * base.numbers(address).size
    assert make_grid(finer(case, 2).spec).x.size == 4 * (base.site.grid.x.size - 1) + 1


def test_what_memory_does_not_hold_is_refused_before_anything_is_run(tmp_path, monkeypatch):
    monkeypatch.setattr(memory, "available_bytes", lambda: 4e6)
    with pytest.raises(CaseError, match=r"run\.cell: to double it, .* is available"):
        run(spread("5 mm"), tmp_path / "out", doubling=True)
    assert not (tmp_path / "out").exists()


def test_progress_goes_from_start_to_end(tmp_path):
    seen = []
    run(spread("20 mm"), tmp_path, lambda done, total: seen.append(done / total), doubling=True)
    assert min(seen) >= 0.0
    assert max(seen) == seen[-1] == 1.0
    assert any(0.15 < share < 0.35 for share in seen)  # steps
    assert any(0.35 < share < 0.9 for share in seen)  # cells


def test_the_command_tells_it_too(small_file, tmp_path):
    asked = ["run", str(small_file), "--doubling", "--no-figures", "-o", str(tmp_path / "out")]
    told = CliRunner().invoke(cli, [*asked, "--json"])
    assert told.exit_code in (0, 1), told.output
    parts = json.loads(told.output)["doubling"]["parts"]
    assert parts["chip"]["steps"]["steady_shift_k"] == 0.0  # no step in a steady state
    assert parts["chip"]["cells"]["steady_shift_k"] == pytest.approx(0.0, abs=0.01)  # its governor holds it

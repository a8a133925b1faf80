"""A run from case to stored result: what is stored, read back, summed up and taken up again."""

import json

import numpy as np
import pytest
import xarray

import thermsim
from thermsim.solve.transient import Transient
from thermsim.store.write import ResultWriter
from thermsim.studies.run import run


def test_stored_field_history_and_frame_equal_the_summary(small, tmp_path):
    result = run(small.with_option("full speed"), tmp_path)
    board = xarray.open_dataset(tmp_path / "result.h5", group="sheets/board", engine="h5netcdf", decode_timedelta=False)
    assert board.temperature.dims == ("time", "y", "x")
    assert board.temperature.attrs["units"] == "degC"
    assert board.x.attrs["units"] == "m"
    assert board.time.attrs["units"] == "s"
    assert board.time.values == pytest.approx(np.linspace(0, 1200, 11))
    # the probe's curve and the field's cell are the same place
    history = board.temperature.sel(x=0.005, y=0.005, method="nearest").values
    probe = result.curves["probes"]["corner"]
    assert np.interp(board.time.values, probe.time, probe.values) == pytest.approx(history, abs=0.01)
    # the last frame is settled, so it is the summary's steady field
    last = board.temperature.isel(time=-1).values
    assert np.nanmax(last) == pytest.approx(result.summary["solids"]["sheet.board"]["max_degc"], abs=0.05)
    assert result.part("chip").values[-1] == pytest.approx(result.summary["parts"]["chip"]["end_degc"], abs=1e-9)
    assert json.loads((tmp_path / "summary.json").read_text(encoding="utf-8")) == result.summary


def test_curves_are_stored_whole(small, tmp_path):
    result = run(small, tmp_path)
    for group in ("parts", "air", "governor", "noise", "probes"):
        for series in result.curves[group].values():
            assert series.time[-1] == pytest.approx(1200.0)
            assert series.time.size > 600
    parts = result.curves_dataset("parts")
    assert parts.chip.attrs["units"] == "degC"
    assert parts.chip.size == result.part("chip").values.size


def test_energy_closes_and_the_ledger_adds_up(small, tmp_path):
    summary = run(small.with_changes({"run.duration": "90 min"}), tmp_path).summary
    assert abs(summary["energy"]["residual_fraction"]) < 1e-4
    ledger = summary["ledger"]
    assert sum(ledger["leaving_w"].values()) + ledger["stored_w"] == pytest.approx(ledger["supplied_w"], rel=1e-9)
    assert ledger["stored_w"] == pytest.approx(0.0, abs=0.01)


def test_the_governor_holds_its_sensor(small, tmp_path):
    summary = run(small, tmp_path).summary
    assert summary["parts"]["chip"]["end_degc"] == pytest.approx(50.0, abs=0.2)
    assert 0.2 < summary["speeds"]["fan.one"] < 1.0


def test_a_stopped_fan_is_told_with_its_time(small, tmp_path):
    summary = run(small.with_option("fan stops"), tmp_path).summary
    chip = summary["parts"]["chip"]
    assert chip["steady_degc"] == pytest.approx(50.0, abs=0.01)
    assert chip["steady_at_end_degc"] > 80
    assert chip["over_limit_at_s"] > 900
    failed = [must["name"] for must in summary["must_haves"] if must["met"] is False]
    assert "chip limit" in failed


def test_a_run_ends_when_it_is_steady(small, tmp_path):
    case = small.with_option("full speed").with_changes({"run.until": "steady", "run.criterion": "2 K/h"})
    summary = run(case, tmp_path).summary
    assert summary["stop_reason"].startswith("steady by 2 K/h")
    assert 60 < summary["simulated_s"] < 1200


def test_a_run_too_short_says_what_is_still_to_come(small, tmp_path):
    summary = run(small.with_changes({"run.duration": "60 s"}), tmp_path).summary
    assert summary["warm_up"]["time_s"] is None
    (told,) = [one for one in summary["limits"] if one["name"] == "not settled at the end"]
    assert told["where"] == ["part.chip"]
    assert told["still_to_come_k"] == pytest.approx(summary["parts"]["chip"]["residual_k"])


class Killed(Exception):
    """Stands for a kill."""


@pytest.mark.parametrize("frames", [1, 4, 9])
def test_an_interrupted_run_goes_on_to_the_same_answer(small, tmp_path, monkeypatch, frames):
    whole = run(small, tmp_path / "whole", engine="full")
    original, seen = ResultWriter.checkpoint, []

    def checkpoint(self, standing, tally):
        original(self, standing, tally)
        seen.append(tally.frames)
        if tally.frames >= frames:
            raise Killed

    monkeypatch.setattr(ResultWriter, "checkpoint", checkpoint)
    with pytest.raises(Killed):
        run(small, tmp_path / "cut", engine="full")
    monkeypatch.undo()
    cut = thermsim.read_result(tmp_path / "cut")
    assert not cut.complete
    assert cut.fields["sheet.board"].time.size == seen[-1]

    steps = []
    taken = Transient.steps

    def counted(self, *args):
        for step in taken(self, *args):
            steps.append(step)
            yield step

    monkeypatch.setattr(Transient, "steps", counted)
    resumed = run(small, tmp_path / "cut", engine="full")
    assert resumed.complete
    assert len(steps) < whole.summary["solution"]["steps"]
    # the factors of the first half are made anew, so the answers agree as closely as the steps do, not to the bit
    within = small.spec.run.tolerance / 2
    assert resumed.part("chip").values == pytest.approx(whole.part("chip").values, abs=within)
    field, same = (r.fields["sheet.board"].temperature for r in (resumed, whole))
    assert field == pytest.approx(same, abs=within)


def test_another_case_does_not_take_up_an_unfinished_run(small, tmp_path, monkeypatch):
    def checkpoint(self, standing, tally):
        raise Killed

    monkeypatch.setattr(ResultWriter, "checkpoint", checkpoint)
    with pytest.raises(Killed):
        run(small, tmp_path, engine="full")
    monkeypatch.undo()
    other = small.with_changes({"part.chip.watts": "1 W"})
    assert run(other, tmp_path, engine="full").summary["parts"]["chip"]["watts"] == 1.0


def test_flow_and_noise_jump_with_the_mishap_and_not_before(small, tmp_path):
    result = run(small.with_option("fan stops"), tmp_path)
    flow = result.curves["air"]["main flow"]
    before, after = (np.interp(time, flow.time, flow.values) for time in (899.9, 905.0))
    assert before > 3
    assert after == pytest.approx(0.5, abs=1e-6)  # the draught

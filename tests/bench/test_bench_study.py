"""The whole comparison, on a box whose truth is known: what changed, and where the model is wrong."""

from __future__ import annotations

import json
import tracemalloc
from pathlib import Path
from time import process_time

import numpy as np
import pytest
from bench_box import bench_box

from thermsim.bench.paired.study import bench
from thermsim.case import Case, load_case
from thermsim.report.bench_figures import save_bench
from thermsim.report.bench_text import bench_text
from thermsim.studies.stored import stored


def row(facts: dict, channel: str) -> dict:
    """A channel's row."""
    return next(one for one in facts["rows"] if one["channel"] == channel)


def test_a_model_that_tells_the_truth(tmp_path: Path) -> None:
    """Resistances in series (Incropera & DeWitt, 6th ed., section 3.1): better paste takes 5 W · 1.5 K/W off a."""
    case = load_case(bench_box(tmp_path, {}))
    facts = bench(case, tmp_path / "out")
    a, b = row(facts, "part.a"), row(facts, "part.b")
    assert a["change"] == pytest.approx(-7.5, abs=a["half_width"])
    assert a["verdict"] == "lower"
    assert b["verdict"] == "not told"
    assert a["before"]["mean"] == pytest.approx(7.0 / 0.5 + 10.0, abs=0.2)
    assert a["model"]["change"] == pytest.approx(-7.5, abs=a["half_width"])
    assert a["model"]["change_agrees"]
    assert a["model"]["agrees_before"]
    # 10 % and 5 % are two standard deviations: 0.5 K of the paste's 10 K before, 0.35 K of the film's 14 K
    assert a["model"]["off_before_u"] == pytest.approx(np.hypot(0.5, 0.35), rel=0.05)
    # the film moves both alike, the paste what it holds: 0.5 K less 0.125 K
    assert a["model"]["change_u"] == pytest.approx(0.375, rel=0.05)
    assert b["model"]["change_u"] == pytest.approx(0.0, abs=0.01)
    assert facts["answer"][0].startswith("Cooler after: 1 of 2 parts, a by 7.")
    assert "no difference that this bench can tell in b" in facts["answer"][0]
    assert any(text.startswith("The model told the truth in all 2 places") for text in facts["answer"])
    assert "fit" not in facts["answer"][-1]
    assert facts["nearest_limit"]["part"] == "a"
    assert facts["runs"][0]["power"]["agrees"]
    assert stored(tmp_path / "out", case)["bench"]["answer"] == facts["answer"]


def test_the_models_own_log_comes_back_without_bias(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No noise, no scatter: off by no more than a hundredth of a kelvin, and nothing to fit."""

    class Silent:
        @staticmethod
        def normal(mean: float, scatter: float, size: int = 1) -> np.ndarray:
            return np.zeros(size)

    monkeypatch.setattr(np.random, "default_rng", lambda seed: Silent())
    path = bench_box(tmp_path, {}, runs=2)
    monkeypatch.undo()
    facts = bench(load_case(path), tmp_path / "out")
    for channel in ("part.a", "part.b"):
        model = row(facts, channel)["model"]
        assert abs(model["off_before"]) < 0.01
        assert abs(model["off_after"]) < 0.01
        assert model["change_agrees"]
    assert not facts["model"]["biased"]
    assert not any("fit" in sentence for sentence in facts["answer"])


def test_watts_that_were_not_logged_cannot_be_made_alike(tmp_path: Path) -> None:
    """Asked for and not done is said."""
    path = bench_box(tmp_path, {}, runs=1)
    text = path.read_text(encoding="utf-8").replace('"supply.watts"', '"ignore"')
    path.write_text(text.replace("[bench.columns]", "[bench]\nsame_watts = true\n[bench.columns]"), encoding="utf-8")
    warnings = bench(load_case(path), tmp_path / "out", model=False)["warnings"]
    assert any(text.startswith("no supply watts in before 1, after 1: rises there are not scaled") for text in warnings)


def test_a_model_that_is_wrong_after(tmp_path: Path) -> None:
    """The paste that was put on has 1.1 K/W, not 0.5: the model reads 3 K low there, and nowhere else."""
    facts = bench(load_case(bench_box(tmp_path, {"joint.ab.resistance": "1.1 K/W"})), tmp_path / "out")
    model = row(facts, "part.a")["model"]
    assert model["off_after"] == pytest.approx(-3.0, abs=0.2)
    assert model["change_off"] == pytest.approx(-3.0, abs=0.2)
    assert not model["change_agrees"]
    assert model["agrees_before"]
    assert row(facts, "part.b")["model"]["change_agrees"]
    told = " ".join(facts["answer"])
    assert "it reads 3.0 K low at a after: do not trust it there" in told
    assert "Next: `thermsim fit`" in told
    assert (
        "look at what was built at a (paste, screws, probe): it is 3.0 K hotter than the model only since then" in told
    )
    text = bench_text(facts)
    assert text.splitlines()[1].startswith("• Cooler after")
    assert " !" in text
    assert {path.name for path in save_bench(facts, tmp_path)} == {
        "bench-changes.png", "bench-changes.svg", "bench-traces.png", "bench-traces.svg",
    }  # fmt: skip
    json.dumps(facts, allow_nan=False)


def test_a_model_that_is_wrong_alike_before_and_after(tmp_path: Path) -> None:
    """A film of 40 instead of 50 W/m²K: 7 W over 0.01 m² make 3.5 K more, before and after, and the change is right."""
    facts = bench(load_case(bench_box(tmp_path, {"film.f.h": "40 W/m2K"}, always=True)), tmp_path / "out")
    for channel in ("part.a", "part.b"):
        model = row(facts, channel)["model"]
        assert (model["off_before"], model["off_after"]) == (pytest.approx(-3.5, abs=0.2), pytest.approx(-3.5, abs=0.2))
        assert model["change_off"] == pytest.approx(0.0, abs=0.2)
        assert model["change_agrees"]
        assert not model["agrees_before"]
    assert facts["model"]["bias_words"] == "3.5 K low on average before and 3.5 K low on average after"
    assert "was built" not in " ".join(facts["answer"])  # nothing is new there


def test_a_probes_own_error_is_no_fault_of_the_model(tmp_path: Path) -> None:
    """A model that is sure of itself is allowed what a probe may be off, 2 · 0.3 K, and no more (JCGM 100, 6.2)."""
    for h, agrees in (("48 W/m2K", True), ("46 W/m2K", False)):  # 7 W over 0.01 m²: 14 K, and 0.58 or 1.22 K more
        path = bench_box(tmp_path, {"film.f.h": h}, always=True)
        text = path.read_text(encoding="utf-8").replace('spread = "10 %"', 'spread = "0.01 %"')
        path.write_text(text.replace('spread = "5 %"', 'spread = "0.01 %"'), encoding="utf-8")
        facts = bench(load_case(path), tmp_path / "out")
        assert row(facts, "part.b")["model"]["agrees_before"] is agrees


def test_short_single_runs(tmp_path: Path) -> None:
    """Nine minutes of a box that wants twenty: told by its curve, with the assumed scatter, and said."""
    facts = bench(load_case(bench_box(tmp_path, {}, runs=1, minutes=9.0)), tmp_path / "out", model=False)
    a = row(facts, "part.a")
    assert a["before"]["extrapolated"]
    assert a["before"]["mean"] == pytest.approx(24.0, abs=0.5)
    assert a["change"] == pytest.approx(-7.5, abs=a["half_width"])
    assert "assumed 0.2 K" in facts["answer"][-1]
    assert facts["model"] is None
    assert "told by its curve" in bench_text(facts)


def test_a_governor_that_holds_its_sensor_hides_the_gain(tmp_path: Path) -> None:
    """Held at its set point before and after, a part shows nothing: the answer says where to look."""
    more = """
[fan.f]
curve = ["0 m3/h, 30 Pa", "20 m3/h, 0 Pa"]
[airway.w]
fans = ["fan.f"]
resistance = "0.1 Pa/(m3/h)2"
[governor.g]
sensor = "part.b"
drives = ["fan.f"]
law = "hold"
set_point = "35 degC"
gain = "4 %/K"
reset = "100 s"
"""
    facts = bench(load_case(bench_box(tmp_path, {}, more=more)), tmp_path / "out", model=False)
    assert facts["held"] == [{"sensor": "part.b", "when": "before and after"}]
    assert any(
        "a governor holds b, so what was gained there is in the speed" in text.lower() for text in facts["answer"]
    )


@pytest.mark.slow
def test_the_worked_example(tmp_path: Path) -> None:
    """Planted in its logs: the processor's joint under the plate at about 0.4 K/W instead of 0.15, films 12 % lower."""
    facts = bench(load_case("cases/digitiser"), tmp_path)
    assert facts["answer"][0].startswith("Cooler after: all 15 parts")
    fpga = row(facts, "part.fpga")["model"]
    assert fpga["off_after"] == pytest.approx(-12.0 * 0.25, abs=0.5)
    assert facts["model"]["off"][0]["channel"] == "part.fpga"
    assert facts["model"]["bias_k"]["before"] < -0.8
    assert [run["power"]["agrees"] for run in facts["runs"]] == [True] * 6


@pytest.mark.slow
def test_eight_hours_at_one_reading_a_second(tmp_path: Path) -> None:
    """Twenty columns before and after: compared in seconds, in no more memory than the numbers of one log and a bit."""
    names = [f"p{k}" for k in range(18)]
    tables = {
        "case": {"title": "many parts"}, "room": {"temperature": "21 degC"},
        "part": {name: {"watts": "1 W", "heat_capacity": "60 J/K", "size": "40 x 40 mm"} for name in names},
        "film": {name: {"on": f"part.{name}", "law": "fixed", "h": "30 W/m2K"} for name in names},
        "bench": {
            "columns": {f"{name} [°C]": f"part.{name}" for name in names} | {"R [°C]": "room", "W [W]": "supply.watts"},
            "run": {name: {"file": str(tmp_path / f"{name}.csv"), "stands": name} for name in ("before", "after")},
        },
    }  # fmt: skip
    rng = np.random.default_rng(2)
    time = np.arange(0.0, 8 * 3600.0)
    for stands, rise in (("before", 20.0), ("after", 18.0)):
        columns = [time, *(21.0 + rise * (1 - np.exp(-time / 1200.0)) + rng.normal(0, 0.05, (18, time.size)))]
        table = np.array([*columns, 21.0 + rng.normal(0, 0.02, time.size), 18.0 + 0.0 * time]).T
        head = ",".join(["t [s]", *(f"{name} [°C]" for name in names), "R [°C]", "W [W]"])
        np.savetxt(tmp_path / f"{stands}.csv", table, "%.2f", ",", header=head, comments="", encoding="utf-8")
    began = process_time()
    facts = bench(Case.from_dict(tables), tmp_path / "out", model=False)
    assert process_time() - began < 20.0
    assert all(one["change"] == pytest.approx(-2.0, abs=0.05) for one in facts["rows"] if one["is_rise"])
    tracemalloc.start()
    bench(Case.from_dict(tables), tmp_path / "out", model=False)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 60e6  # one log's numbers are 4.6 MB, and as much again while it is put in order

"""The sections of loop and bench: what the studies found stands on the page."""

import re
import sys
from html import unescape
from pathlib import Path

import pytest
from case_with_a_loop import CASE

sys.path.append(str(Path(__file__).parents[1] / "bench"))
from fit_box import fit_box, planted_runs

from thermsim.bench.fit.study import fit
from thermsim.bench.leak.study import leak
from thermsim.bench.paired.study import bench
from thermsim.case import Case, load_case
from thermsim.report.page.bench import bench_charts, bench_content
from thermsim.report.page.content import page_content
from thermsim.report.page.fit import fit_charts, shown_channels
from thermsim.report.page.leak import leak_charts
from thermsim.report.page.loop import loop_charts
from thermsim.report.page.pipes import pipes_charts
from thermsim.report.page.words import signed
from thermsim.report.page.write import page_text
from thermsim.studies.loop.study import loop_study
from thermsim.studies.pipes.study import pipes_study

Facts = dict
DEMO = Path(__file__).parents[2] / "cases" / "digitiser"
TWO_READINGS = """
[leak]
volume = "200 mL"
volume_uncertainty = "4 mL"
resolution = "10 Pa"
limit = "0.05 sccm"
first = "150.2 kPa, 23.0 degC"
last = "149.9 kPa, 22.6 degC"
after = "30 min"
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory) -> Facts:
    return loop_study(Case.from_text(CASE), tmp_path_factory.mktemp("loop"))


@pytest.fixture(scope="module")
def tests_of_leak(tmp_path_factory) -> Facts:
    return leak(load_case(DEMO), tmp_path_factory.mktemp("leak"))


def section(text: str, name: str) -> str:
    """The text of a section without its marks."""
    inside = re.search(rf'<section id="{name}".*?</section>', text, re.DOTALL).group(0)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", inside)))


def test_the_loop_tells_each_element_and_where_the_pump_meets_it(results, book):
    text = page_text("box", results, {"loop": book})
    told = section(text, "loop")
    (one,) = book["books"]
    for row in one["elements"]:
        assert signed(row["drop_pa"] / 1000) in told
        assert signed(row["watts"]) in told
    for change in one["changes"][:5]:
        assert signed(change["gain_k"], 2, plus=True) in told
    chart = loop_charts(book)["loop_0"]
    pump, loop = chart["lines"]
    (mark,) = chart["marks"]
    # the curves cross where the mark stands
    before = [k for k, flow in enumerate(pump["x"]) if flow <= mark["x"]][-1]
    assert pump["y"][before] > loop["y"][before]
    assert loop["y"][before + 1] is None or loop["y"][before + 1] > pump["y"][before + 1]


def test_a_leak_test_stands_with_its_verdict_and_curves(results, tests_of_leak):
    text = page_text("box", results, {"leak": tests_of_leak})
    told = section(text, "leak")
    assert tests_of_leak["verdict"].capitalize() in told
    for test in tests_of_leak["tests"]:
        assert signed(test["sccm"], 3) in told
    charts = leak_charts(tests_of_leak)
    assert set(charts) == {"leak_0", "leak_1"}
    area, limit = charts["leak_1"]["areas"][0], charts["leak_1"]["lines"][3]
    assert area["low"][-1] < charts["leak_1"]["lines"][1]["y"][-1] < area["high"][-1]
    # 0.05 cm³ a minute as gas at one atmosphere and 0 °C, out of 300 mL: p V = n R T
    minutes = limit["x"][-1] - limit["x"][0]
    allowed = 101325 * 0.05 * minutes * (293.15 / 273.15) / 300
    assert -limit["y"][-1] == pytest.approx(allowed, rel=1e-3)


def test_two_readings_of_a_leak_test_need_no_curve(results, tmp_path):
    facts = leak(Case.from_text(CASE + TWO_READINGS), tmp_path)
    assert leak_charts(facts) == {}
    assert "30 min" in section(page_text("box", results, {"leak": facts}), "leak")


def test_heat_pipes_stand_with_load_capacity_and_tilt(results, tmp_path):
    facts = pipes_study(load_case(DEMO.parent / "organ", changes={"run.cell": "15 mm"}), tmp_path)
    told = section(page_text("box", results, {"pipes": facts}), "pipes")
    for book in facts["books"]:
        for pipe in book["pipes"]:
            for one in pipe["states"].values():
                assert f"{signed(one['load_w'])} {signed(one['capacity_w'])} {signed(one['margin'], 2)}" in told
    charts = pipes_charts(facts)
    assert len(charts["pipes_tilt"]["lines"]) == sum(len(book["pipes"]) for book in facts["books"])


@pytest.fixture(scope="module")
def before_and_after(tmp_path_factory) -> Facts:
    """Of the demo's logs, the model run on a coarse grid."""
    return bench(load_case(DEMO, changes={"run.cell": "10 mm"}), tmp_path_factory.mktemp("bench"))


@pytest.mark.slow
def test_before_and_after_stand_with_interval_model_and_curves(results, before_and_after):
    told = section(page_text("box", results, {"bench": before_and_after}), "bench")
    rows = [row for row in before_and_after["rows"] if row["is_rise"]]
    assert len(rows) >= 15
    for row in rows:
        assert f"{signed(row['change'], plus=True)} ± {signed(row['half_width'])}" in told
    for run in before_and_after["runs"]:
        assert all(text in told for text in run["mended"])
    content = bench_content(before_and_after)
    for row in content["rises"]:  # the bar lies on the side of the change
        middle = row["left"] + row["width"] / 2
        assert (middle < content["zero"]) == (row["change"] < 0)
        assert 0 <= row["left"] <= row["left"] + row["width"] <= 100.001
    charts = bench_charts(before_and_after)
    assert set(charts) == {"bench_before", "bench_after"}
    assert len(charts["bench_after"]["lines"]) == 2 * len(before_and_after["traces"]["after"]["channels"])


def test_before_and_after_without_a_model(results, tmp_path):
    facts = bench(load_case(DEMO), tmp_path, model=False)
    told = section(page_text("box", results, {"bench": facts}), "bench")
    assert "model says" not in told
    assert bench_charts(facts) == {}


@pytest.mark.slow
def test_a_fit_stands_with_what_it_found_and_did_not_see(results, tmp_path):
    box = fit_box()
    facts = fit(box, tmp_path, planted_runs(box))
    told = section(page_text("box", results, {"fit": facts}), "fit")
    for one in facts["held_out"]["series"][:3]:
        assert signed(one["error"], 2, plus=True) in told
    for option in facts["fitted_options"]:
        assert f"“{option}”" in told or option in told
    charts = fit_charts(facts)
    assert list(charts) == [f"fit_{k}" for k in range(len(shown_channels(facts)))]
    runs = {one["run"] for one in facts["traces"] if one["channel"] == shown_channels(facts)[0]}
    assert len(charts["fit_0"]["lines"]) == 2 * len(runs)


def test_sections_come_only_with_their_studies(results, book):
    sections = page_content("box", results, {"loop": book})["sections"]
    assert "loop" in sections
    assert not {"pipes", "leak", "bench", "fit"} & set(sections)

"""The sections of loop and bench: what the studies found stands on the page."""

import re
from pathlib import Path

import pytest
from case_with_a_loop import CASE

from thermsim.bench.leak.study import leak
from thermsim.case import Case, load_case
from thermsim.report.page.content import page_content
from thermsim.report.page.leak import leak_charts
from thermsim.report.page.loop import loop_charts
from thermsim.report.page.words import signed
from thermsim.report.page.write import page_text
from thermsim.studies.loop.study import loop_study

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
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", inside))


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


def test_sections_come_only_with_their_studies(results, book):
    sections = page_content("box", results, {"loop": book})["sections"]
    assert "loop" in sections
    assert not {"pipes", "leak", "bench", "fit"} & set(sections)

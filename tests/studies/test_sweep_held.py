"""What a sweep settles and judges: one state, duties held, bounds as stated, and nothing where there is none."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))
from two_parts import two_parts

from thermsim.case import CaseError
from thermsim.report.sweep_text import sweep_text
from thermsim.studies.sweep import study as whole
from thermsim.studies.sweep.one import read_line
from thermsim.studies.sweep.samples import all_pass
from thermsim.studies.sweep.study import follow, sweep

# part b of 0.01 m² and 50 W/m²K holds a, joined by 2 K/W, at 20 °C + (W_a + 2 W) · 2 K/W + W_a · 2 K/W
AT_5_W, AT_1_W, AT_4_W = 44.0, 28.0, 40.0


def stated(**more):
    tables = two_parts(**more).resolved()
    tables["part"]["a"]["watts"] = {"rest": "1 W", "work": "5 W"}
    return two_parts(**more | {"part": tables["part"]})


def test_it_settles_in_the_runs_own_state_whatever_comes_first(tmp_path):
    duty = {"shift": {"of": "state", "points": ["0 s, rest", "10 min, work"]}}
    case = stated(run={"state": "work", "duration": "30 min"}, duty=duty)
    facts = sweep(case, tmp_path, 0)
    told = {one["name"]: one["nominal"] for one in facts["tornado"]["outputs"]}
    assert told["part.a"] == pytest.approx(AT_5_W)
    assert 'settled in state "work"; for rest use --set run.state=rest' in facts["warnings"]
    line = follow(case, tmp_path, read_line(case, "part.a.watts", "1 W", "5 W", 2))["one"]
    assert [state["parts_degc"]["a"] for state in line["states"]] == pytest.approx([AT_1_W, AT_5_W])


def test_a_duty_is_held_as_at_the_end_and_can_be_swept(tmp_path):
    duty = {"later": {"of": "part.a.watts", "points": ["0 s, 1 W", "10 min, 5 W"]}}
    case = two_parts(run={"duration": "30 min"}, duty=duty)
    facts = sweep(case, tmp_path, 0)
    row = next(row for row in facts["tornado"]["rows"] if row["input"] == "part.a.watts")
    assert row["per_unit"]["part.a"] == pytest.approx(4.0)
    assert facts["tornado"]["worst_margin_k"] == pytest.approx(45 - AT_5_W)
    assert "held as at the end of the run: part.a.watts" in facts["warnings"]
    line = follow(case, tmp_path, read_line(case, "part.a.watts", "1 W", "4 W", 2))["one"]
    assert [state["parts_degc"]["a"] for state in line["states"]] == pytest.approx([AT_1_W, AT_4_W])


def test_a_mishap_that_is_still_to_come_is_told(tmp_path):
    hot = {"hot": {"at": "10 min", "room_rise": "10 K"}}
    case = two_parts(run={"duration": "30 min"}, mishap=hot).with_mishaps(["hot"])
    assert any("settled before hot happens" in text for text in sweep(case, tmp_path, 0)["warnings"])


def test_without_limits_nothing_passes_or_fails(tmp_path):
    facts = sweep(two_parts().with_changes({"part.a.limit": None}), tmp_path, 8)
    assert facts["samples"]["all_pass_probability"] is None
    assert any("nothing to pass or fail" in text for text in facts["answer"])
    assert "all kept together" not in sweep_text(facts)


def test_samples_that_never_settle_do_not_pass():
    told = all_pass(two_parts(), [{"failed": "no way out"}] * 4)
    assert told["all_pass_probability"] == 0.0


def test_a_limit_is_crossed_where_it_is_swept_to(tmp_path):
    case = two_parts()
    facts = follow(case, tmp_path, read_line(case, "part.a.limit", "30 degC", "60 degC", 4))
    assert facts["one"]["first"]["at"] == pytest.approx(AT_5_W)
    assert "a limit is kept above 44.0 °C" in facts["answer"][0]
    falling = follow(case, tmp_path, read_line(case, "part.a.watts", "8 W", "2 W", 4))
    assert "a limit is kept below 5.25 W" in falling["answer"][0]


@pytest.mark.parametrize(
    ("address", "start", "stop", "message"),
    [
        ("room.temperature", "80 %", "120 %", 'a temperature has no per cent of its own; say such as "20 degC"'),
        ("part.b.watts", "50 %", "200 %", "part.b.watts is zero, and so is 50 % of it"),
    ],
)
def test_a_share_of_nothing_is_refused(address, start, stop, message):
    case = two_parts().with_changes({"part.b.watts": "0 W"})
    with pytest.raises(CaseError) as caught:
        read_line(case, address, start, stop, 3)
    assert message in str(caught.value)


def test_a_limit_is_no_uncertain_input():
    with pytest.raises(CaseError) as caught:
        two_parts(uncertain={"x": {"of": "part.a.limit", "spread": "3 K"}})
    assert "what a result is held against is no input" in str(caught.value)


def test_samples_that_settle_elsewhere_in_full_are_warned_of(tmp_path, monkeypatch):
    off = {"count": 3, "largest_k": 0.9, "largest_indicator_k": 0.002}
    monkeypatch.setattr(whole, "check_in_full", lambda *asked: off)
    warnings = sweep(two_parts(), tmp_path, 8)["warnings"]
    assert any("0.9 K from what was told" in text for text in warnings)

"""The whole comparison: what is stored, an interruption, the answer in words."""

import json
import re
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))  # for the boxes
from trade_boxes import trade_box

from thermsim.case import CaseError
from thermsim.report.compare_text import compare_text
from thermsim.report.decide_figures import save_compare
from thermsim.studies.compare import option_cases
from thermsim.studies.decide import study as comparison
from thermsim.studies.decide.study import compare_study
from thermsim.studies.where import Where

DRAWS = 24


@pytest.fixture(scope="module")
def box():
    return trade_box(governed=True, memory_limit=99)


@pytest.fixture(scope="module")
def told(box, tmp_path_factory):
    folder = tmp_path_factory.mktemp("compared")
    facts = compare_study(box, folder, draws=DRAWS)[1]
    return folder, facts


def test_what_is_stored_is_what_is_told(told):
    folder, facts = told
    stored = json.loads((folder / "compare.json").read_text("utf-8"))
    assert stored.pop("stamp")
    assert stored == json.loads(json.dumps(facts))
    assert set(facts["options"]) == {"base", "better paste", "better paste and fans", "bigger sink", "liquid"}
    assert set(facts["frozen"]) == {"base", "better paste", "better paste and fans", "bigger sink"}
    assert facts["decision"]["draws"] == DRAWS
    assert len(facts["answer"]) <= 5


def test_shares_of_samples_add_up(told):
    decision = told[1]["decision"]
    assert sum(decision["rank_frequency"].values()) + decision["none_passes"] == pytest.approx(1.0)
    for name, frequency in decision["rank_frequency"].items():
        assert frequency <= decision["pass_probability"][name]["share"] + 1e-9


def test_an_interrupted_comparison_goes_on_to_the_same_end(box, told, tmp_path, monkeypatch):
    settle, calls = comparison.settle_batch, []

    def stopped(*arguments):
        calls.append(arguments)
        if len(calls) > 3:
            raise KeyboardInterrupt
        return settle(*arguments)

    here = Where(processes=1)
    monkeypatch.setattr(comparison, "settle_batch", stopped)
    with pytest.raises(KeyboardInterrupt):
        compare_study(box, tmp_path, where=here, draws=DRAWS)
    assert not (tmp_path / "compare.json").exists()
    calls.clear()
    monkeypatch.setattr(comparison, "settle_batch", lambda *arguments: calls.append(arguments) or settle(*arguments))
    facts = compare_study(box, tmp_path, where=here, draws=DRAWS)[1]
    pieces = 5 * -(-(DRAWS + 1) // 16)
    assert len(calls) == pieces - 3  # three were kept
    whole = told[1]
    for key in ("answer", "trials", "decision", "live", "frozen", "states"):
        assert json.dumps(facts[key]) == json.dumps(whole[key])


def test_the_report_begins_with_the_answer(told):
    text = compare_text(told[1])
    assert "\nnoise without pump.p: no noise stated: liquid\n" in text
    assert text.startswith("two parts in a duct (invented demo data)\n• Take “")
    assert "bigger sink (trap)" in text
    assert "speed frozen where the base case settles" in text


def test_the_report_tells_what_fails_in_other_states_and_what_cannot_be_told(told):
    facts = json.loads(json.dumps(told[1]))
    musts = facts["decision"]["must_haves"]
    limit = next(must for must in facts["options"]["base"]["must_haves"] if must["of"] == "limit")
    musts["base"] |= {"failed": [limit | {"state": "peak", "text": "chip limit in state peak"}]}
    musts["liquid"] |= {"failed": [], "cannot_tell": [limit | {"name": "flat", "why": "missing: part.chip.height"}]}
    facts["states"] = {
        "asked": {"work": "steady", "peak": "steady"}, "how": "every state",
        "options": {"base": {"work": {"verdicts": [limit]}, "peak": {"verdicts": [limit]}},
                    "liquid": {"work": {"verdicts": []}}},
    }  # fmt: skip
    text = compare_text(facts)
    assert re.search(r"^base +1 failed", text, re.MULTILINE)
    assert re.search(r"^liquid +1 untold", text, re.MULTILINE)
    assert re.search(r"^liquid +– +–$", text, re.MULTILINE)  # it has no state "peak"


def test_one_design_alone_is_not_compared_in_words(box, tmp_path):
    hot = box.with_changes({"part.chip.limit": "60 degC"})
    facts = compare_study(hot, tmp_path, ["base"], draws=0)[1]
    assert facts["answer"] == ["“base” does not meet every must-have: chip limit: 75.5 °C, at most 60."]


def test_a_change_that_an_option_cannot_take_names_the_option(box):
    with pytest.raises(CaseError, match=r'unknown governor "chip" \(in option liquid\)'):
        option_cases(box.with_changes({"governor.chip.min_speed": "30 %"}))


def test_the_share_chart_is_drawn(told, tmp_path):
    assert [path.name for path in save_compare(told[1], tmp_path)] == ["shares.png", "shares.svg"]
    assert save_compare(told[1] | {"trials": []}, tmp_path) == []


def test_a_few_options_without_samples(box, tmp_path):
    results, facts = compare_study(box, tmp_path, ["liquid"], draws=0)
    assert list(results) == ["liquid"]
    assert facts["decision"]["rank_frequency"] == {}
    assert facts["live"]["base"]["parts_degc"]["chip"] == pytest.approx(70.0, abs=0.01)
    assert compare_text(facts)

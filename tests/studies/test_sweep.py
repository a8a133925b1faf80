"""Samples and lines: probabilities as they can be written down, the same in full, interrupted and gone on with."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from scipy import stats

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "engine")]
from small_box import small_box
from two_parts import A_DEGC, A_W, AREA, B_DEGC, H, R, two_parts

from thermsim.case import Case
from thermsim.commands.sweep import command
from thermsim.report.sweep_figures import save_sweep
from thermsim.report.sweep_text import sweep_text
from thermsim.studies.sweep import sampled
from thermsim.studies.sweep.answer import judged_in_words
from thermsim.studies.sweep.one import read_line
from thermsim.studies.sweep.study import follow, sweep

WATTS = {"watts": {"of": "part.a.watts", "spread": "20 %"}}
UNCERTAIN = {
    "watts": {"of": "part.chip.watts", "spread": "20 %"}, "film": {"of": "film.top.h", "spread": "20 %"},
    "foot": {"of": "part.chip.to_board", "spread": "30 %"}, "fan": {"of": "fan.f.curve", "spread": "20 %"},
    "room": {"of": "room.temperature", "spread": "3 K"},
    "board": {"of": "sheet.board.conductivity", "spread": "30 %"},
}  # fmt: skip
QUIET = {"quiet": {"of": "noise", "at_most": "20 dB(A)"}}
BOX = Case.from_resolved(small_box().resolved() | {"uncertain": UNCERTAIN, "must_have": QUIET}).with_changes({
    "governor.g.set_point": "50 degC", "part.chip.limit": "51 degC", "fan.f.noise": "30 dB(A)",
})  # fmt: skip


def test_a_linear_output_passes_as_often_as_it_must(tmp_path):
    facts = sweep(two_parts(uncertain=WATTS), tmp_path, 512)
    told = facts["samples"]["outputs"]["part.a"]
    # T_a rises by R + 1/hA with its watts, whose standard deviation is a tenth of them; cut at three
    law = stats.truncnorm(-3, 3, A_DEGC, 0.1 * A_W * (R + 1 / (H * AREA)))
    expected = law.cdf(45.0)
    assert 0.6 < expected < 0.9
    assert told["pass_probability"] == pytest.approx(expected, abs=2 / 512)
    assert told["pass_low"] < expected < told["pass_high"]
    assert told["mean"] == pytest.approx(A_DEGC, abs=0.005)
    assert told["sd"] == pytest.approx(law.std(), rel=0.01)
    assert [told["p05"], told["p50"], told["p95"]] == pytest.approx(law.ppf([0.05, 0.5, 0.95]), abs=0.02)
    assert facts["samples"]["all_pass_probability"] == told["pass_probability"]
    (driver,) = facts["samples"]["drivers"]
    assert driver == {"of": "a limit", "input": "watts", "rank_correlation": pytest.approx(-1.0)}


def test_a_line_crosses_its_limit_where_it_must(tmp_path):
    case = two_parts()
    facts = follow(case, tmp_path, read_line(case, "part.a.watts", "2 W", "8 W", 4))
    # 45 °C = T_b(W_a = 0) + W_a (R + 1/hA)
    at = (45 - (B_DEGC - A_W / (H * AREA))) / (R + 1 / (H * AREA))
    assert facts["one"]["first"] == {
        "name": "a limit", "of": "limit", "at": pytest.approx(at, abs=1e-6), "is_broken_beyond": True,
    }  # fmt: skip
    assert [state["parts_degc"]["a"] for state in facts["one"]["states"]] == pytest.approx([32, 40, 48, 56], abs=1e-6)
    assert "is broken above 5.25 W" in facts["answer"][0]


def test_what_is_sampled_is_named():
    told = {"judged": ["a limit", "b_1 limit", "quiet"], "not_sampled": ["flat", "light"]}
    assert judged_in_words(told) == "All 2 limits and quiet (flat and light are not sampled) hold"
    assert judged_in_words({"judged": ["b_1 limit"], "not_sampled": []}) == "B 1 limit holds"


@pytest.fixture(scope="module")
def box_facts(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sweep")
    return folder, sweep(BOX, folder, 128, check=20)


def test_twenty_at_random_in_full_agree(box_facts):
    samples = box_facts[1]["samples"]
    assert samples["checked"]["count"] == 20
    assert samples["checked"]["largest_k"] < samples["checked"]["largest_indicator_k"]
    assert samples["checked"]["largest_indicator_k"] < BOX.spec.run.tolerance
    assert samples["told_by_family"] > 0.95 * 128


def test_interrupted_it_goes_on_and_tells_the_same(box_facts, tmp_path, monkeypatch):
    asked = []
    whole = sampled.Sampler.sample

    def interrupted(self, changes):
        asked.append(changes)
        if len(asked) == 100:
            raise KeyboardInterrupt
        return whole(self, changes)

    monkeypatch.setattr(sampled.Sampler, "sample", interrupted)
    with pytest.raises(KeyboardInterrupt):
        sweep(BOX, tmp_path, 128, check=20)
    assert (tmp_path / "sweep.kept.jsonl").read_text().count('"key"') == 1
    again = sweep(BOX, tmp_path, 128, check=20)
    assert len(asked) == 100 + 64  # the first piece was kept
    mine, theirs = (json.loads(json.dumps(facts["samples"])) for facts in (again, box_facts[1]))
    mine.pop("cost"), theirs.pop("cost")
    assert mine == theirs
    assert again["answer"] == box_facts[1]["answer"]


def test_text_figures_and_a_line_beside_it(box_facts):
    folder, facts = box_facts
    text = sweep_text(facts, 500)
    assert text.splitlines()[1] == f"• {facts['answer'][0]}"
    assert "95 % sure" in text
    assert "approv" in text  # the caution
    line = read_line(BOX, "fan.f.curve", "80 %", "120 %", 3)
    both = follow(BOX, folder, line)
    assert both["tornado"] == facts["tornado"]
    assert both["one"]["dimension"] == "factor"
    names = {path.name for path in save_sweep(both, folder)}
    assert {"sweep-tornado.png", "sweep-samples.png", "sweep-one.svg"} <= names
    stored = json.loads((folder / "sweep.json").read_text())
    assert stored["one"]["values"] == pytest.approx([0.8, 1.0, 1.2])
    assert np.array(stored["samples"]["outputs"]["noise"]["histogram"]["counts"]).sum() == 128


@pytest.mark.parametrize(
    ("flags", "message"),
    [
        (
            ["--of", "part.fpgaa.watts", "--from", "1 W", "--to", "2 W"],
            '--of: there is no part "fpgaa"; did you mean "fpga"?',
        ),
        (["--of", "part.fpga.watts", "--from", "1", "--to", "2 W"], "--from: needs a unit"),
        (["--of", "part.fpga.watts", "--from", "1 W", "--to", "1 W"], "--to: is the same as --from"),
        (["--of", "part.fpga.watts", "--from", "1 W", "--to", "2 W", "--steps", "1"], "--steps: must be at least 2"),
        (["--of", "part.fpga.watts", "--from", "-1 W", "--to", "2 W"], "--from: must be at least 0"),
        (["--of", "fan.pair.curve", "--from", "20 Pa", "--to", "30 Pa"], 'swept by a factor, such as "80 %"'),
        (["--of", "part.fpga.watts"], "needs --from and --to"),
        (["--from", "1 W"], "go with --of"),
    ],
)
def test_wrong_flags_are_said(flags, message):
    case = str(Path(__file__).parents[2] / "cases" / "digitiser")
    result = CliRunner().invoke(command, [case, *flags])
    assert message in f"{result.output}{result.exception}"

"""Shares of the liquid benefit, and lessons of the trade shown and refuted on small invented boxes."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))  # for the boxes
from trade_boxes import trade_box

from thermsim.case.deciding import Decide
from thermsim.studies.compare import option_cases
from thermsim.studies.decide.answer import trap
from thermsim.studies.decide.first_trial import bounds, first_trial, shares_in_words
from thermsim.studies.decide.roles import BASE, roles
from thermsim.studies.decide.sensors import sensors_compared
from thermsim.studies.decide.study import settle_design
from thermsim.studies.decide.trials import HELD, LIQUID_IS_WORSE, NOT_RESOLVABLE, first_to_run, is_trap, share, trials
from thermsim.studies.run import run


def trials_of(case):
    """All trials of a case by option, against its one liquid option."""
    cases = option_cases(case)
    base = settle_design(case, None)
    found = {BASE: base} | {
        name: settle_design(cases[name], base["live"]["speeds"]) for name in cases if name != BASE
    }  # fmt: skip
    held = {name: told["frozen"] for name, told in found.items() if told["frozen"]}
    told = trials(cases, roles(cases), {name: one["live"] for name, one in found.items()}, held)
    return {trial["option"]: trial for trial in told}


def test_a_share_by_hand():
    # (60 − 55)/(60 − 30); uncertainty of a quotient of two differences, each ±0.5: 0.5/30 √(1 + 1/36)
    told = share(60.0, 55.0, 30.0, 0.5)
    assert told["share"] == pytest.approx(1 / 6)
    assert told["share_u"] == pytest.approx(0.5 / 30 * (1 + 1 / 36) ** 0.5)
    assert share(60.0, 62.0, 30.0, 0.5)["share"] == pytest.approx(-1 / 15)


@pytest.mark.parametrize(("liquid", "why"), [(58.6, NOT_RESOLVABLE), (61.4, NOT_RESOLVABLE), (61.6, LIQUID_IS_WORSE)])
def test_no_share_where_liquid_hardly_helps(liquid, why):
    told = share(60.0, 55.0, liquid, 0.5)  # three times 0.5 K is the least
    assert told["share"] is None
    assert told["why"] == why
    assert share(60.0, 55.0, 58.4, 0.5)["share"] is not None


def test_live_and_frozen_are_told_apart():
    told = trials_of(trade_box(governed=True, more="[decide]\ncheap = ['better paste', 'bigger sink']"))
    paste = told["better paste"]
    assert paste["governed"]
    assert paste["live"]["parts"]["chip"]["why"] == HELD
    # frozen, the fan's speed and so its air and sink stay: 20 W through 0.25 K/W less
    chip = paste["frozen"]["parts"]["chip"]
    assert chip["now_degc"] - chip["trial_degc"] == pytest.approx(20 * 0.25, abs=0.01)
    assert paste["frozen"]["noise"]["trial_dba"] == pytest.approx(paste["frozen"]["noise"]["now_dba"], abs=1e-3)
    assert paste["live"]["noise"]["trial_dba"] < paste["live"]["noise"]["now_dba"] - 3
    assert paste["frozen"]["parts"]["memory"]["why"] == LIQUID_IS_WORSE


def test_a_governor_that_holds_one_sensor_may_cook_another_part():
    # common practice, no source; and it need not be so where nothing slows the fan
    trap = trials_of(trade_box(governed=True))["bigger sink"]
    assert trap["trap"]
    assert [one["part"] for one in trap["live"]["newly_over"]] == ["memory"]
    assert trap["frozen"]["newly_over"] == []
    free = trials_of(trade_box())["bigger sink"]
    assert not free["trap"]
    assert free["live"]["hotter"] == []


def _told(noise, degc, *, governed=True):
    trial = {
        "option": "cold", "against": "liquid", "governed": governed, "trap": False,
        "live": {"noise": noise, "hotter": [], "newly_over": []},
        "frozen": {"parts": degc, "best_part": "chip", "worst_part": "memory", "worst_share": 0.08},
    }  # fmt: skip
    live = {"base": {"worst_part": "memory", "margins_k": {"memory": -4.0, "chip": 10.0}}}
    return trial, {"live": live, "sensors": [], "uncertainty": {"temperature_k": 0.5, "noise_db": 1.0}}


def test_the_trial_says_what_refutes_it():
    # 25.3 − 20.5 dB within 2 × 1 dB, 54.2 − 50.7 K within 2 × 0.5 K
    noise = {"now_dba": 25.3, "trial_dba": 20.5}
    degc = {"memory": {"now_degc": 54.2, "trial_degc": 50.7, "share": 0.08}, "chip": {"share": 0.49}}
    trial, told = _told(noise, degc)
    assert bounds(told, trial, "the fan speed") == (
        "Read: 4.8 ± 2.0 dB quieter with the governor live, and memory 3.5 ± 1.0 K cooler with the fan speed frozen; "
        "less than 2.8 dB or 2.5 K refutes the model."
    )
    assert shares_in_words(told, trial) == "49 % (chip), at worst 8 % (memory, over its limit today),"
    # what its uncertainty may hide refutes nothing
    faint, told = _told({"now_dba": 25.3, "trial_dba": 23.4}, degc, governed=False)
    assert bounds(told, faint, "") == "Read: memory 3.5 ± 1.0 K cooler; less than 2.5 K refutes the model."
    slight = {"memory": {"now_degc": 54.2, "trial_degc": 53.3, "share": 0.02}}
    assert bounds(told, _told(None, slight)[0], "") == ""


def test_where_no_step_is_quieter_that_comes_first():
    degc = {"memory": {"now_degc": 54.2, "trial_degc": 50.7, "share": 0.08}, "chip": {"share": 0.49}}
    for part, quieter in ((0.0, False), (0.4, True)):
        noise = {"now_dba": 31.0, "trial_dba": 31.0 - 10 * part, "liquid_dba": 21.0, "share": part}
        trial, told = _told(noise, degc, governed=False)
        told |= {"trials": [trial], "decision": {"ranking": []}, "noise_without": {}, "driven": []}
        line = first_trial(told)[0]
        assert line.startswith("Run “cold” first: expect 40 % of the quiet") is quieter
        assert (
            line.startswith("No cheap step makes it quieter. “cold” still tests the model: expect 49 %") is not quieter
        )


def test_a_step_that_does_little_and_pushes_a_part_over_its_limit_says_so():
    degc = {"memory": {"share": 0.0}, "chip": {"share": 0.03}}
    weak, told = _told(None, degc)
    weak["live"]["newly_over"] = [{"part": "memory", "degc": 90.3, "limit_degc": 90.0}]
    better = _told(None, {"memory": {"share": 0.1}, "chip": {"share": 0.4}})[0]
    told |= {"trials": [weak, better | {"option": "other"}], "decision": {"ranking": []}}
    assert trap(told) == [
        "“cold” does little: 3 % of the cooling at best (chip), and takes memory just over its limit."
    ]


def test_a_trap_is_quieter_and_hides_a_hotter_part():
    def live(quieter, hotter, why=HELD):
        return {
            "noise": {"now_dba": 25.0, "trial_dba": 25.0 - quieter}, "hotter": [{"part": "p", "by_k": hotter}],
            "parts": {"held": {"why": why}}, "newly_over": [],
        }  # fmt: skip

    assert is_trap(live(3.0, 2.0), Decide())
    assert not is_trap(live(3.0, 2.0, why=None), Decide())  # slower fans, plain to see on every part
    assert is_trap(live(3.0, 2.0, why=None) | {"newly_over": [{"part": "p"}]}, Decide())
    assert not is_trap(live(-3.0, 2.0), Decide())  # louder and hotter is plain to hear
    assert not is_trap(live(3.0, 0.8), Decide())  # within what a comparison of two temperatures can tell
    assert not is_trap(live(3.0, 2.0) | {"noise": None}, Decide())


def test_paste_and_fans_may_bring_most_of_it_or_little():
    # common practice, no source: where an old joint is most of the way out, and where it is not
    most = trials_of(trade_box(paste=1.5, sink=1.0))["better paste and fans"]
    assert most["frozen"]["worst_part"] == "chip"
    assert most["frozen"]["worst_share"] > 0.75
    little = trials_of(trade_box(paste=0.06, sink=1.5))["better paste"]
    assert little["frozen"]["parts"]["chip"]["share"] < 0.02


@pytest.mark.parametrize(("block", "alike"), [(2.264, True), (1.7, False)])
def test_a_sensor_may_read_the_same_by_air_and_by_liquid(tmp_path, block, alike):
    # common practice, no source: held at 70 °C by a fan, or at about 70 °C by a poor block, and far quieter
    cases = option_cases(trade_box(governed=True, block=block), [BASE, "liquid"])
    results = {name: run(one, tmp_path / name) for name, one in cases.items()}
    (told,) = sensors_compared(results, roles(cases))
    assert told["part"] == "chip"
    assert told["alike"] is alike
    assert (told["largest_difference_k"] < 0.5) is alike
    assert told["noise_difference_db"] < -10


def test_the_first_trial_harms_nothing_if_one_does_not():
    found = list(trials_of(trade_box(governed=True)).values())
    assert {trial["option"] for trial in found if trial["trap"]} >= {"better paste", "bigger sink"}
    harmless = found[0] | {
        "option": "harmless",
        "trap": False,
        "live": found[0]["live"] | {"hotter": [], "newly_over": []},
    }
    assert first_to_run([*found, harmless], "liquid")["option"] == "harmless"
    assert first_to_run(found, "no such") is None

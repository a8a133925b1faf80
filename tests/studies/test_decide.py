"""Must-haves before merits, ties, states, samples: what a decision may rest on."""

import sys
from math import exp
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

sys.path.append(str(Path(__file__).parent))  # for the boxes
from trade_boxes import trade_box

from thermsim.case import Case, CaseError, load_case
from thermsim.case.deciding import Decide
from thermsim.report.text import musts_lines
from thermsim.studies.compare import option_cases
from thermsim.studies.decide.decision import decision, must_haves, nominal
from thermsim.studies.decide.draws import Nominal, firmness, probability, shifted
from thermsim.studies.decide.merits import efforts, scored, ties
from thermsim.studies.decide.roles import roles
from thermsim.studies.decide.states import courses, how_chosen, state_facts
from thermsim.studies.musts import verdict_text
from thermsim.studies.run import run
from thermsim.studies.settled import Settler, what_moves

CASES = Path(__file__).parents[2] / "cases"
PLAIN = Decide()


def test_a_score_by_hand():
    # margin: 10 and 4 K, best − worst 6 K above 3 × 0.5 K; noise: 20 and 22 dB(A), 2 dB below 3 × 1 dB
    told = scored({"a": {"margin": 10.0, "noise": 22.0}, "b": {"margin": 4.0, "noise": 20.0}}, PLAIN)
    assert told["a"]["score"] == pytest.approx((1 + 0) / 2)
    assert told["b"]["score"] == pytest.approx((0 + 2 / 3) / 2)
    weighed = scored(
        {"a": {"margin": 10.0, "cost": 400.0}, "b": {"margin": 4.0, "cost": 100.0}, "c": {"margin": 4.0}},
        Decide(weights={"margin": 1.0, "cost": 3.0}),
    )
    assert [one["score"] for one in weighed.values()] == pytest.approx([0.25, 0.75, 0.0])
    assert weighed["c"]["untold"] == ["cost"]


def test_ties_within_the_uncertainty():
    # one merit: the difference ties within 2 × 0.5 K of margin
    decide = Decide(weights={"margin": 1.0})
    values = {"a": {"margin": 10.0}, "b": {"margin": 9.2}, "c": {"margin": 2.0}}
    scores = {name: one["score"] for name, one in scored(values, decide).items()}
    assert ties(values, scores, decide) == [("a", "b")]
    apart = values | {"b": {"margin": 8.8}}
    scores = {name: one["score"] for name, one in scored(apart, decide).items()}
    assert ties(apart, scores, decide) == []


def _summary(margin, met=True, **more):
    must = {
        "name": "chip limit", "of": "limit", "part": "chip", "value": 90.0 - margin, "unit": "degC",
        "at_most": 90.0, "at_least": None, "met": margin >= 0,
    }  # fmt: skip
    own = {"name": "low", "of": "height", "value": None, "unit": "mm", "at_most": 40.0, "at_least": None, "met": met}
    return {
        "parts": {"chip": {"worst_degc": 90.0 - margin}, "memory": {"worst_degc": 30.0}},
        "noise": {"with_room_dba": 20.0}, "dew": None, "heat_pipes": {}, "warm_up": {"time_s": 600.0},
        "ledger": {"supplied_w": 25.0}, "must_haves": [must, own],
    } | more  # fmt: skip


def _decided(case, told):
    musts = {name: must_haves(summary, {}) for name, summary in told.items()}
    return decision({name: nominal(case, summary, {}) for name, summary in told.items()}, musts, None)


def test_a_failed_must_have_never_ranks_whatever_its_merits():
    case = trade_box()
    told = _decided(case, {"good": _summary(5.0), "silent": _summary(-0.1, noise={"with_room_dba": 0.0})})
    assert [one["option"] for one in told["ranking"]] == ["good"]
    assert told["must_haves"]["silent"]["passes"] is False
    assert told["must_haves"]["silent"]["failed"][0]["text"] == "chip limit: 90.1 °C, at most 90"


def test_what_cannot_be_told_ranks_behind_what_passes_and_says_so():
    told = _decided(trade_box(), {"dark": _summary(20.0, met=None), "plain": _summary(5.0)})
    assert [(one["option"], one["passes"]) for one in told["ranking"]] == [("plain", True), ("dark", None)]
    assert told["must_haves"]["dark"]["cannot_tell"][0]["name"] == "low"


def test_samples_say_nothing_of_a_must_have_that_cannot_be_told():
    quiet = {
        "name": "quiet", "of": "noise", "value": None, "unit": "dB(A)", "at_most": 25.0, "at_least": None,
        "met": None, "why": "no noise was stated",
    }  # fmt: skip
    told = {"plain": _summary(5.0), "deaf": _summary(5.0), "tall": _summary(5.0, met=False)}
    for name in ("deaf", "tall"):
        told[name]["must_haves"].append(quiet)
    case = trade_box()
    musts = {name: must_haves(summary, {}) for name, summary in told.items()}
    assert musts["deaf"]["cannot_tell"][0]["text"] == "quiet: cannot tell, at most 25 dB(A) (no noise was stated)"
    facts = {"parts_degc": {"chip": 80.0, "memory": 30.0}, "with_room_dba": 20.0, "dew_margin_k": None}
    samples = {name: [facts | {"pipe_margins": {}}] * 3 for name in told}
    found = decision({name: nominal(case, one, {}) for name, one in told.items()}, musts, samples)
    assert set(found["pass_probability"]) == {"plain", "tall"}  # one fails all the same
    assert found["pass_probability"]["tall"]["share"] == 0.0


def test_a_run_too_short_to_be_warm_fails_in_words():
    late = {
        "name": "quick", "of": "warm-up", "value": None, "unit": "s", "at_most": 600.0, "at_least": None,
        "met": False, "why": "the run ends before it is warm",
    }  # fmt: skip
    assert verdict_text(late) == "quick: not met, at most 600 s (the run ends before it is warm)"
    assert musts_lines({"must_haves": [late]}) == [f"MUST-HAVE NOT MET: {verdict_text(late)}"]
    untold = late | {"met": None, "why": "no reason"}
    assert musts_lines({"must_haves": [untold, late | {"met": True}]}) == [
        "1 of 2 must-haves met",
        "cannot tell: quick (no reason)",
    ]


def test_a_limit_broken_in_another_state_alone_fails():
    state = {"peak": {"verdicts": [_summary(-2.0)["must_haves"][0]]}}
    told = must_haves(_summary(5.0), state)
    assert told["passes"] is False
    assert told["failed"][0]["text"] == "chip limit in state peak: 92.0 °C, at most 90"


def test_an_option_without_a_state_that_the_base_case_has_is_not_known_to_pass():
    told = must_haves(_summary(5.0), {"idle": {"verdicts": []}}, ["idle", "peak"])
    assert told["passes"] is None
    assert [must["text"] for must in told["cannot_tell"]] == [
        "state peak (not every part of it has watts for state peak)"
    ]
    assert must_haves(_summary(5.0), {"idle": {"verdicts": []}}, ["idle"])["passes"]


def test_roles_by_build_and_by_name():
    told = roles(option_cases(load_case(CASES / "organ")))
    assert told["idle"] == told["peak for 60 s"] == "conditions"
    assert told["better paste"] == "cheap"
    assert told["two heat pipes"] == "other"
    assert told["liquid, pump stops"] == "mishap"
    assert roles(option_cases(trade_box()))["liquid"] == "liquid"
    named = roles(option_cases(trade_box(more="[decide]\nliquid = 'bigger sink'\ncheap = 'better paste'")))
    assert (named["bigger sink"], named["better paste"], named["liquid"]) == ("liquid", "cheap", "other")
    assert named["better paste and fans"] == "other"


def test_efforts_are_those_of_what_an_option_is_based_on():
    more = "[option.liquid.effort]\ncost = 400\n[option.x]\nbase = 'liquid'\neffort = { hours = 3 }"
    case = trade_box(more=more)
    assert efforts(case) == {"cost": 0.0, "hours": 0.0}
    assert efforts(case.with_option("x")) == {"cost": 400.0, "hours": 3.0}
    assert efforts(case.with_option("liquid")) == {"cost": 400.0}


LUMP = """
[case]
title = "a lump"
[room]
temperature = "20 degC"
[run]
state = "play"
duration = "10 min"
[part.p]
watts = { idle = "1 W", play = "2 W", peak = "6 W" }
limit = "90 degC"
heat_capacity = "30 J/K"
size = "100 x 100 mm"
[film.p]
on = "part.p"
law = "fixed"
h = "10 W/m2K"
"""


def test_a_spell_in_a_state_by_the_lumped_formula():
    # textbook, first order: T = T1 + ΔT (1 − exp(−t/τ)); 0.1 W/K, 30 J/K, τ = 300 s; 40 °C before, 80 °C sought
    case = Case.from_text(LUMP)
    assert courses(case) == {"idle": "steady", "play": "steady", "peak": "steady"}
    assert how_chosen(case) == "every state that the parts name, steady"
    settler = Settler()
    spell = state_facts(case, "peak", 60.0, settler)
    assert spell["parts_degc"]["p"] == pytest.approx(40 + 40 * (1 - exp(-60 / 300)), abs=0.03)
    assert state_facts(case, "peak", "steady", settler)["parts_degc"]["p"] == pytest.approx(80.0)
    assert state_facts(case, "idle", 60.0, settler)["parts_degc"]["p"] == pytest.approx(40.0, abs=1e-6)
    assert settler.built == 1


def test_a_boost_of_a_minute_is_not_judged_as_if_it_stayed():
    watts = LUMP.replace('watts = { idle = "1 W", play = "2 W", peak = "6 W" }', 'watts = "2 W"')
    boost = '[duty.p]\nof = "part.p.watts"\npoints = ["0 min, 9 W", "1 min, 2 W"]\n'
    case = Case.from_text(watts.replace('state = "play"\n', "") + boost)
    assert courses(case) == {}  # the run tells it all
    # by hand: 20 + 90 (1 − exp(−60/300)) = 36.3 °C after the minute, 40 °C in the end; 110 °C if it stayed
    assert run(case).summary["parts"]["p"]["worst_degc"] == pytest.approx(40.0, abs=0.01)
    assert what_moves(case) == [
        "where it settles is told for the first stretch of the run; left out: changes of part.p.watts"
    ]


def test_a_spell_is_what_a_run_with_that_spell_shows():
    case = load_case(CASES / "organ", changes={"run.cell": "15 mm"})
    peak = state_facts(case, "peak", 60.0, Settler())["parts_degc"]
    for name, part in run(case.with_option("peak for 60 s")).summary["parts"].items():
        # an hour of playing before it leaves the slow battery 0.2 K short of its end
        assert peak[name] == pytest.approx(part["peak_degc"], abs=0.25)


def test_an_interval_of_a_share():
    for hits, count in ((0, 64), (3, 64), (60, 64), (64, 64)):
        told = probability(hits, count)
        outside = binomtest(hits, count).proportion_ci(0.95, method="wilson")  # SciPy's
        assert (told["low"], told["high"]) == pytest.approx((outside.low, outside.high), abs=1e-6)


def test_the_share_of_samples_that_pass_and_win():
    case = Case.from_text(LUMP)

    def facts(degc):
        return {"parts_degc": {"p": degc}, "with_room_dba": None, "dew_margin_k": None, "pipe_margins": {}}

    generator = np.random.default_rng(5)
    noise = generator.normal(0.0, 4.0, 4000)
    merits = {"margin": 5.0, "noise": None}
    options = {
        "hot": Nominal(case, facts(86.0), merits, True), "cool": Nominal(case, facts(70.0), merits, True),
        "failing": Nominal(case, facts(70.0), merits, False),
    }  # fmt: skip
    # the rough grid reads 1 K low everywhere, which is made good
    sampled = {name: [facts(one.facts["parts_degc"]["p"] - 1.0)] for name, one in options.items()}
    for name, told in sampled.items():
        told += [facts(options[name].facts["parts_degc"]["p"] - 1.0 + shift) for shift in noise]
    told = firmness(options, sampled, PLAIN)
    # 4 K of margin at a standard deviation of 4 K: 84.13 % (tables of the normal distribution)
    assert told["pass_probability"]["hot"]["share"] == pytest.approx(0.8413, abs=0.02)
    assert told["pass_probability"]["cool"]["share"] == 1.0
    assert told["pass_probability"]["failing"]["share"] == 0.0
    assert told["rank_frequency"]["cool"] == 1.0
    assert told["none_passes"] == 0.0
    assert shifted(facts(1.0), facts(1.0), {"failed": "no path"}) is None


WRONG = [
    ("liquid = 'liqid'", 'decide.liquid[1]: there is no option "liqid"; did you mean "liquid"?'),
    ("cheap = 'fan stops'", 'option "fan stops" is a mishap'),
    ("liquid = 'liquid'\ncheap = 'liquid'", '"liquid" is named as liquid already'),
    ("weights = { nois = 1 }", 'decide.weights.nois: there is no merit "nois"; did you mean "noise"?'),
    ("weights = { noise = 0 }", "all weights are zero"),
    ("weights = { noise = -1 }", "must be at least 0; got -1"),
    ("uncertainty = '0 K'", 'must be above 0; got "0 K"'),
    ("states = { wrk = 'steady' }", 'not every part has watts for state "wrk"; did you mean "work"?'),
    ("states = { work = 'soon' }", 'expected "steady" or a time after the run\'s own state'),
    ("states = { work = '0 s' }", "a time above 0 s"),
]


@pytest.mark.parametrize(("line", "message"), WRONG)
def test_a_mistake_in_decide_gets_a_plain_message(line, message):
    more = "[mishap.m]\nat = '1 min'\nstops = 'fan.main'\n[option.'fan stops']\nmishaps = 'm'\n[decide]\n"
    with pytest.raises(CaseError) as error:
        trade_box(more=more + line)
    assert message in str(error.value)

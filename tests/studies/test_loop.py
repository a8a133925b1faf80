"""The loop's book: what it finds, what it says first, what it refuses."""

import json
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))  # for the helper of this folder, under pytest's importlib mode
from one_loop import one_loop

from thermsim.case import CaseError
from thermsim.report.loop_figures import save_loop
from thermsim.report.loop_text import loop_text
from thermsim.studies.loop.changes import decisive
from thermsim.studies.loop.study import loop_study

FREE = {"loop__main__flow": None}
BRANCHES = ["hose.out", ["block.cold", "block.idle"], "hose.back", "radiator.r", "reservoir.tank"]
IDLE = """
[block.idle]
resistance = "0.1 K/W"
volume = "5 mL"
drop = "1 kPa"
drop_at = "2 L/min"
[joint.idle]
between = ["part.chip", "block.idle"]
resistance = "10 K/W"
"""

BESIDE = """
[joint.beside]
between = ["part.chip", "sink.c"]
resistance = "0.1 K/W"
[sink.c]
on = "part.chip"
airway = "airway.outside"
resistance = "0.5 K/W"
at_flow = "2000 m3/h"
exponent = 0.5
"""


@pytest.fixture
def study(tmp_path):
    def run(more="", **changes):
        return loop_study(one_loop(more, **changes), tmp_path)

    return run


def only(facts):
    (book,) = facts["books"]
    return book


def found(facts, words):
    said = [f"{', '.join(one['where'])}: {one['name']}: {one['text']}" for one in facts["limits"]]
    return any(words in text for text in facts["warnings"] + said)


def test_facts_are_stored_as_told(study, tmp_path):
    facts = study(**FREE)
    stored = json.loads((tmp_path / "loop.json").read_text())
    assert {key: stored[key] for key in facts} == json.loads(json.dumps(facts))
    assert facts["answer"][0].startswith("The loop carries its heat, 1000.0 W at ")
    assert len(facts["answer"]) <= 5


def test_shares_of_the_head_add_up(study):
    book = only(study(**FREE))
    assert sum(row["share_of_head"] for row in book["elements"]) == pytest.approx(1.0)
    for row in book["elements"]:
        shares = row["friction_pa"] + row["fittings_pa"] + row["bore_steps_pa"] + row["measured_pa"]
        assert shares == pytest.approx(row["drop_pa"])


def test_the_first_change_is_the_one_that_helps(study):
    facts = study(**FREE, joint__paste__resistance="0.03 K/W")
    changes = only(facts)["changes"]
    assert changes[0]["what"] == "joint.paste at half its resistance"
    assert changes[0]["gain_k"] == pytest.approx(15.0, abs=0.5)  # 1 kW through 0.015 K/W less
    assert [row["gain_k"] for row in changes] == sorted((row["gain_k"] for row in changes), reverse=True)
    assert any(text.startswith("Change first: joint.paste at half its resistance") for text in facts["answer"])


def test_where_nothing_helps_it_says_so(study):
    facts = study(**FREE, part__chip__watts="20 W")
    assert any(text.startswith("Change nothing:") for text in facts["answer"])


def test_a_part_over_its_limit(study):
    facts = study(part__chip__limit="40 degC")
    assert facts["answer"][0].startswith("The loop does not carry its heat")
    assert "chip is" in facts["answer"][0]


def test_a_radiator_in_air_that_is_hotter(study):
    facts = study(BESIDE, part__chip__watts="20 W", airway__outside__inlet="40 degC", hose__out__loss="5 W/mK")
    assert "radiator.r takes " in facts["answer"][0]
    assert "K over its coolant" in facts["answer"][0]


def test_without_limits_the_hottest_part_decides(study):
    facts = study(**FREE, part__chip__limit=None)
    assert decisive(only(facts)["standing"]) == "chip"
    assert "no part on it has a limit" in facts["answer"][0]


def test_a_flow_that_the_pump_cannot_give(study):
    facts = study(loop__main__flow="2.9 L/min")
    assert "on paper only" in facts["answer"][0]
    assert found(facts, "pump.p cannot give it")
    assert not found(study(loop__main__flow="1 L/min"), "cannot give it")


def test_a_branch_that_starves(study):
    facts = study(IDLE, **FREE, loop__main__path=BRANCHES)
    (split,) = only(facts)["branches"]
    assert sum(way["share_of_flow"] for way in split["ways"]) == pytest.approx(1.0)
    assert [way["starved"] for way in split["ways"]] == [True, False]
    assert found(facts, "the branch of block.cold gets")
    for way in split["ways"]:
        assert 0 < way["loop_flow_if_airlocked_l_per_min"] < only(facts)["pump"]["flow_l_per_min"]
    assert "branches side by side" in loop_text(facts)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "no gas is stated over the coolant of reservoir.tank"),
        ({"reservoir__tank__gas": "1 mL", "loop__main__hottest": "60 degC"}, "more than the 1.0 mL of gas"),
        ({"reservoir__tank__gas": "30 mL", "loop__main__rating": "0.5 bar"}, "more than the 50 kPa it is rated for"),
        ({"loop__main__vented": True, "reservoir__tank__gas": "1 mL", "loop__main__hottest": "60 degC"}, "it spills"),
        ({"loop__main__coldest": "-5 degC"}, "water freezes at 0.0 °C and is to get as cold as -5.0 °C"),
        ({"loop__main__coldest": "3 degC"}, "as cold as 3.0 °C; keep 5 K"),
        ({"loop__main__hottest": "98 degC"}, "near boiling"),
        ({"radiator__r__conductance": "5 W/K"}, "so it boils: temperatures beyond are not real"),
        ({}, "mL of gas, or more; state `hottest`, in store and on the road"),
        ({"loop__main__fill_temperature": "60 degC"}, "Sealed and full, a few kelvin burst it; leave gas"),
        (
            {**FREE, "pump__p__heat": "0.1 W"},
            "pump.p gives 0.5 W to the stream and is stated to draw 0.1: state its heat",
        ),
        (
            {"block__cold__wetted": ["copper"], "radiator__r__wetted": ["aluminium"]},
            "aluminium with copper in one loop, and its inhibitor is not stated: never without one",
        ),
        (
            {"block__cold__wetted": ["copper"], "radiator__r__wetted": ["aluminium"], "loop__main__inhibited": False},
            "its inhibitor is none: never without one",
        ),
        (
            {"block__cold__wetted": ["copper"], "radiator__r__wetted": ["aluminium"], "loop__main__inhibited": True},
            "lives by its inhibitor alone",
        ),
        ({"radiator__r__wetted": ["aluminium"], "loop__main__ph": 9.5}, "pH 9.5"),
        ({"hose__out__bore": "3 mm"}, "copper and brass behind it erode"),
        ({"hose__out__permeation": "1 g/md"}, "the reserve is gone through the hoses in 33 days"),
        ({}, "hose.out, hose.back: flow in transition: Reynolds number"),
    ],
)
def test_what_a_builder_must_not_overlook(study, changes, words):
    assert found(study(**changes), words)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"reservoir__tank__gas": "80 mL", "loop__main__rating": "3 bar"}, "gas"),
        ({"loop__main__vented": True, "reservoir__tank__gas": "20 mL"}, "spills"),
        ({"loop__main__coldest": "6 degC"}, "freezes"),
        ({"loop__main__hottest": "60 degC"}, "state `hottest`"),
        ({**FREE, "pump__p__heat": "0.6 W"}, "state its heat"),
        ({"block__cold__wetted": ["copper"], "radiator__r__wetted": ["brass", "nickel"]}, "inhibitor"),
        ({"radiator__r__wetted": ["aluminium"], "loop__main__ph": 7.0}, "pH"),
        ({"hose__out__bore": "3 mm", "block__cold__wetted": ["aluminium"]}, "erode"),
        ({"hose__out__permeation": "0.01 g/md"}, "reserve is gone"),
    ],
)
def test_what_is_in_order_is_not_warned_of(study, changes, words):
    assert not found(study(**changes), words)


def test_glycol_grows_richer_as_water_leaves(study):
    facts = study(
        loop__main__coolant="propylene glycol", loop__main__fraction="30 %", hose__out__permeation="0.05 g/md",
    )  # fmt: skip
    level = only(facts)["fill"]["level"]
    fill = only(facts)["fill"]
    assert level["fraction_then"] == pytest.approx(fill["glycol_kg"] / (fill["mass_kg"] - 0.0999), rel=1e-3)
    assert level["without"] == ["hose.back"]


def test_options_without_a_loop_are_refused(tmp_path):
    dry = """
[option.dry]
remove = ["loop.main", "block.cold"]
set = { "joint.paste.between" = ["part.chip", "sink.c"] }
[option.dry.add.sink.c]
on = "part.chip"
airway = "airway.outside"
resistance = "0.05 K/W"
at_flow = "2000 m3/h"
exponent = 0.5
"""
    case = one_loop(dry)
    with pytest.raises(CaseError, match='option "dry" has no loop; these have: base'):
        loop_study(case, tmp_path, ["dry"])
    with pytest.raises(CaseError, match='unknown option "dri"; did you mean "dry"'):
        loop_study(case, tmp_path, ["dri"])


LATER = """
[mishap.stop]
at = "10 s"
stops = ["pump.p"]
[option.stopped]
mishaps = ["stop"]
"""


def test_a_mishap_that_comes_later_is_refused(tmp_path):
    case = one_loop(LATER + BESIDE, **FREE, part__chip__watts="20 W")
    with pytest.raises(CaseError, match=r"mishap\.stop\.at: comes after 10 s, when this study has settled"):
        loop_study(case, tmp_path, ["stopped"])
    stopped = loop_study(case.with_changes({"mishap.stop.at": "0 s"}), tmp_path, ["stopped"])
    assert stopped["answer"][0] == "The loop carries nothing: nothing flows."


def test_two_loops_of_one_case_are_told_apart(study):
    other = """
[part.two]
watts = "200 W"
limit = "70 degC"
heat_capacity = "50 J/K"
[joint.two]
between = ["part.two", "block.second"]
resistance = "0.05 K/W"
[block.second]
resistance = "0.02 K/W"
volume = "5 mL"
drop = "1 kPa"
drop_at = "2 L/min"
[radiator.x]
airway = "airway.outside"
conductance = "100 W/K"
at_flow = "2000 m3/h"
exponent = 0.5
volume = "50 mL"
drop = "1 kPa"
drop_at = "1 L/min"
[pump.x]
curve = ["0 L/min, 20 kPa", "2 L/min, 0 kPa"]
heat = "1 W"
[loop.other]
pump = "pump.x"
coolant = "water"
path = ["block.second", "radiator.x"]
"""
    facts = study(other, **FREE)
    first, second = facts["answer"]
    assert first.startswith("base: loop main carries its heat, 1000.0 W")
    assert second.startswith("base: loop other carries its heat, 200.0 W")
    assert facts["books"][1]["standing"]["tightest_part"] == "two"


def test_a_pump_that_stands(study, tmp_path):
    facts = study(BESIDE, loop__main__flow=None, pump__p__speed="0 %", part__chip__watts="20 W")
    assert facts["answer"] == ["The loop carries nothing: nothing flows.", facts["answer"][-1]]
    assert "stand in stagnant coolant" in facts["answer"][-1]
    save_loop(facts, tmp_path, ("svg",))
    assert "nothing flows" in loop_text(facts)


def test_figure_and_text(study, tmp_path):
    facts = study(**FREE)
    assert [path.name for path in save_loop(facts, tmp_path, ("svg",))] == ["loop.svg"]
    text = loop_text(facts, 100)
    for words in ("of head", "by hand K", "pour in 283 mL", "cannot be told: no hose states its permeation"):
        assert words in text
    assert max(map(len, text.splitlines())) <= 130

"""Heat pipes: load against capacity, tilted, with one lost; on a box of one part, pipes and a sink. Invented."""

from math import pi, radians, sin

import pytest

from thermsim.case import Case, CaseError
from thermsim.physics.saturated_water import saturated_water
from thermsim.report.pipes_figures import save_pipes
from thermsim.report.pipes_text import pipes_text
from thermsim.studies.pipe_capacity import one_pipe, wick_limit
from thermsim.studies.pipes.study import pipes_study

TEXT = """
[case]
title = "one part on heat pipes"
[room]
temperature = "20 degC"
[run]
state = "play"
[part.chip]
watts = { idle = "5 W", play = "30 W" }
limit = "70 degC"
heat_capacity = "20 J/K"
[part.stack]
watts = "0 W"
heat_capacity = "20 J/K"
[sink.fins]
on = "part.stack"
airway = "airway.main"
resistance = "0.5 K/W"
at_flow = "40 m3/h"
exponent = 0.6
[joint.fins]
between = ["part.stack", "sink.fins"]
resistance = "0.01 K/W"
[airway.main]
flow = "40 m3/h"
[heat_pipe.main]
between = ["part.chip", "part.stack"]
resistance = "0.4 K/W"
"""
TWO = "count = 2\n"
MAKER = TWO + 'capacity = "30 W"\nbends = 1\n'
# the copper and water pipe of the handbook example: 6 mm, wall 0.3, wick 0.6, spheres of 60 µm radius, porosity 0.45
TUBE = 'diameter = "6 mm"\nwall = "0.3 mm"\nevaporator = "30 mm"\nadiabatic = "90 mm"\ncondenser = "30 mm"\n'
SINTER = TUBE + 'wick = { kind = "sinter", thickness = "0.6 mm", grain = "0.12 mm", porosity = "45 %" }\n'
MESH = TUBE + 'wick = { kind = "mesh", thickness = "0.2 mm", wire = "0.0216 mm", opening = "0.0292 mm" }\n'


def case(more, **changes):
    return Case.from_text(TEXT + more).with_changes({key.replace("__", "."): value for key, value in changes.items()})


@pytest.fixture
def study(tmp_path):
    def run(more=MAKER, **changes):
        return pipes_study(case(more, **changes), tmp_path)

    return run


def only(facts):
    ((pipe,),) = (book["pipes"] for book in facts["books"])
    return pipe


def pipe_of(more, **changes):
    return case(more, **changes).spec.heat_pipe["main"]


def test_wick_of_the_handbook_example():
    # Chi's relations with CoolProp's water at 60 °C: 58.12 W; here with the tool's own water
    assert wick_limit(pipe_of(SINTER), 60.0, 0.0) == pytest.approx(58.12, rel=0.012)


def test_makers_figure_times_bends_and_flattening():
    assert one_pipe(pipe_of(MAKER), 40.0, 0.0) == pytest.approx(27.0)
    assert one_pipe(pipe_of(MAKER, heat_pipe__main__flattening_factor=0.7), 40.0, 0.0) == pytest.approx(18.9)


def test_tilt_takes_the_weight_of_the_water():
    # level less ρ g L sin φ of the 2σ/r there is; L 150 mm from end to end, r 24.6 µm
    water = saturated_water(60.0)
    pipe = pipe_of(SINTER)
    for deg in (-90.0, 30.0, 90.0):
        head = water.liquid_density * 9.80665 * 0.15 * sin(radians(deg))
        share = 1 - head / (2 * water.surface_tension / 24.6e-6)
        assert wick_limit(pipe, 60.0, radians(deg)) == pytest.approx(share * wick_limit(pipe, 60.0, 0.0), rel=1e-6)


def test_makers_figure_is_tilted_by_the_wick():
    pipe = pipe_of(MAKER + SINTER)
    share = wick_limit(pipe, 50.0, pi / 2) / wick_limit(pipe, 50.0, 0.0)
    assert one_pipe(pipe, 50.0, 0.0) == pytest.approx(27.0)
    assert one_pipe(pipe, 50.0, pi / 2) == pytest.approx(27.0 * share)


def test_the_hot_end_is_the_one_that_heat_leaves(study):
    # the same pipe, its ends named the other way round: the first end, now the cold one, stands above
    up = study(SINTER, heat_pipe__main__tilt="60 deg")
    down = study(SINTER, heat_pipe__main__tilt="-60 deg",
                 heat_pipe__main__between=["part.stack", "part.chip"])  # fmt: skip
    one, other = (only(facts) for facts in (up, down))
    assert one["tilt"]["stated_deg"] == other["tilt"]["stated_deg"] == pytest.approx(60.0)
    assert one["states"]["play"] == pytest.approx(other["states"]["play"])
    level = only(study(SINTER))["states"]["play"]["capacity_w"]
    assert one["states"]["play"]["capacity_w"] < level


def test_a_pipe_that_its_tilt_leaves_nothing(study):
    # pores of 1 mm spheres lift water 2σ/(r ρ g), some 70 mm: less than 150 mm on end
    facts = study(SINTER.replace("0.12 mm", "1 mm").replace('"0.6 mm"', '"1.2 mm"'), heat_pipe__main__tilt="90 deg")
    pipe = only(facts)
    assert pipe["states"]["play"] | {"vapour_degc": 0} == {
        "load_w": pytest.approx(30.0), "capacity_w": 0.0, "margin": 0.0, "vapour_degc": 0,
    }  # fmt: skip
    assert facts["answer"][0].startswith("Reject: the pipe main runs dry: 0 W for")


def test_load_is_the_parts_heat_and_every_state_is_told(study):
    pipe = only(study())
    assert {state: told["load_w"] for state, told in pipe["states"].items()} == pytest.approx(
        {"idle": 5.0, "play": 30.0}
    )
    assert pipe["states"]["play"]["margin"] == pytest.approx(54 / 30)
    assert pipe["worst_state"] == "play"
    assert pipe["capacity_from"] == "maker"


@pytest.mark.parametrize(
    ("watts", "begins"),
    [(30, "The 2 pipes of main carry it"), (45, "Reject: the 2 pipes of main carry it on paper"),
     (60, "Reject: the 2 pipes of main run dry")],
)  # fmt: skip
def test_verdict(study, watts, begins):
    facts = study(part__chip__watts=f"{watts} W")
    assert facts["answer"][0].startswith(begins)
    assert only(facts)["needed"] == {30: 2, 45: 3, 60: 3}[watts]  # 1.3 times the load in pipes of 27 W


def test_a_state_for_a_time_is_told_as_it_ends(study):
    # half of 0.4 K/W lies between chip and vapour: load and vapour are those of one moment, short of settling
    spell = '[decide]\nstates = { play = "steady", idle = "60 s" }\n'
    facts = study(SINTER + spell, part__chip__watts={"idle": "45 W", "play": "10 W"})
    peak, book = only(facts)["states"]["idle"], facts["books"][0]
    assert 10 < peak["load_w"] < 44.9
    assert book["states"]["idle"]["parts_degc"]["chip"] - peak["vapour_degc"] == pytest.approx(0.2 * peak["load_w"])


def test_frozen_and_overheated_pipes_are_told(study):
    cold = study(room__temperature="-40 degC")
    assert cold["answer"][0].startswith(
        "Reject: the 2 pipes of main would be frozen, -37 °C in idle and -22 °C in play"
    )
    assert any("at -22 °C in play its water is ice" in text for text in cold["warnings"])
    hot = study(room__temperature="150 degC", part__chip__limit="250 degC")
    # IAPWS-95: 7.5 bar at 168 °C
    assert any("168 °C in play, 8 bar within" in text for text in hot["warnings"])
    assert not any("bar within" in text or "ice" in text for text in study()["warnings"])


def test_one_lost(study):
    facts = study()
    lost = only(facts)["lost"]["play"]
    assert lost["load_w"] == pytest.approx(30.0)
    assert lost["margin"] == pytest.approx(27 / 30)
    # 0.2 K/W of two pipes become 0.4 of one: 30 W times 0.2 K/W warmer
    play = facts["books"][0]["states"]["play"]["parts_degc"]["chip"]
    assert lost["parts_degc"]["chip"] - play == pytest.approx(6.0, abs=1e-3)
    assert any("they run dry" in text for text in facts["answer"])


def test_the_only_one_lost(study):
    facts = study(heat_pipe__main__count=1)
    assert only(facts)["lost"]["play"]["parts_degc"] is None
    assert "With one pipe lost nothing carries the heat away." in facts["answer"]
    assert "none: rises on" in pipes_text(facts)


def test_the_only_one_lost_where_there_is_another_way_out(study):
    lost = only(study('capacity = "30 W"\n[joint.also]\nbetween = ["part.chip", "sink.fins"]\nresistance = "2 K/W"\n'))[
        "lost"
    ]
    # all 30 W by 2 K/W and the sink's 0.5 over 20 °C
    assert lost["play"]["parts_degc"]["chip"] == pytest.approx(95.0, abs=0.01)
    assert lost["play"]["over"] == ["chip"]


def test_tilt_sweep_and_where_it_ends(study):
    tilt = only(study(SINTER, heat_pipe__main__count=1, part__chip__watts="34 W"))["tilt"]
    assert tilt["capacity_w"] == sorted(tilt["capacity_w"], reverse=True)
    assert -90 < tilt["margin_to_deg"] < 90 == tilt["carries_to_deg"]
    assert only(study())["tilt"]["deg"] is None


def test_a_mesh_and_a_pipe_with_no_makers_figure(study):
    facts = study(MESH)
    pipe = only(facts)
    assert pipe["capacity_from"] == "wick"
    assert pipe["straight_w"] == pytest.approx(wick_limit(pipe_of(MESH), pipe["states"]["play"]["vapour_degc"], 0.0))
    low, high = pipe["conduction"]["wick_k_per_w"]
    assert low == high > 0.4  # a mesh conducts little
    assert any("less than its wick alone costs" in text for text in facts["warnings"])


def test_maker_and_wick_far_apart(study):
    assert any("more than a factor of 2 apart" in text for text in study('capacity = "200 W"\n' + SINTER)["warnings"])
    assert not any("apart" in text for text in study('capacity = "50 W"\n' + SINTER)["warnings"])


def test_hazards_are_told(study):
    told = " ".join(study()["cautions"])
    for words in ("never solder, drill, cut or torch", "15.6 bar", "untouched twin in water of 60 to 70 °C"):
        assert words in told


def test_figure_and_text(study, tmp_path):
    for more in (MAKER, MAKER + SINTER):
        facts = study(more)
        assert [path.name for path in save_pipes(facts, tmp_path, ("svg",))] == ["pipes.svg"]
        text = pipes_text(facts, 100)
        assert ("capacity W by tilt" in text) == ("wick" in more)
        assert "30 W straight, level and round by its maker" in text


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ("", "heat_pipe.main.capacity: missing; the maker's"),
        (MAKER + 'tilt = "10 deg"\n', "heat_pipe.main.tilt: what tilt costs depends on the wick"),
        (SINTER.replace('wall = "0.3 mm"\n', ""), "heat_pipe.main.wall: missing; a wick needs it"),
        (SINTER.replace('grain = "0.12 mm", ', ""), "heat_pipe.main.wick.grain: missing; a sinter wick has it"),
        (SINTER.replace('"45 %"', '"45 %", wire = "20 um"'), "heat_pipe.main.wick.wire: goes with a mesh wick"),
        (SINTER.replace('"45 %"', '"100 %"'), "heat_pipe.main.wick.porosity: must be between 0 and 100 %; got 100 %"),
        (SINTER.replace('"0.6 mm"', '"2.7 mm"'), "wall and wick leave no room for the vapour"),
        (SINTER + 'tilt = "120 deg"\n', "heat_pipe.main.tilt: must be at most 90 °"),
        (SINTER + 'tilt = "10"\n', 'needs a unit, for example "30 deg"'),
        (SINTER.replace("sinter", "felt"), "heat_pipe.main.wick.kind: must be 'sinter' or 'mesh'"),
    ],
)
def test_pipes_stated_badly(more, message):
    with pytest.raises(CaseError) as caught:
        case(more)
    assert message in str(caught.value)


def test_a_case_without_pipes_is_refused(tmp_path):
    bare = Case.from_text(
        TEXT.partition("[heat_pipe")[0] + '[joint.d]\nbetween=["part.chip","part.stack"]\nresistance="1 K/W"\n'
    )
    with pytest.raises(CaseError, match="no option of this case has a heat pipe"):
        pipes_study(bare, tmp_path)

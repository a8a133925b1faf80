"""Heat without a way out: what is a mistake is named, and what is a mishap is run to its end."""

import pytest
from plain_cases import FAN, STREAM, case_of, film, loop_tables, part, sheet

from thermsim.model.build import build
from thermsim.report.compare_text import compare_text
from thermsim.report.text import run_text
from thermsim.solve.factor import NoPath
from thermsim.solve.steady import solve_steady
from thermsim.solve.transient import Transient
from thermsim.studies.decide.study import compare_study
from thermsim.studies.run import run
from thermsim.studies.where import Where

BLOCK = {"resistance": "0.2 K/W", "volume": "20 mL", "drop": "5 kPa", "drop_at": "1 L/min"}


def test_a_pump_that_stops_is_run_though_nothing_settles(tmp_path):
    tables = loop_tables(path=["hose.h", "block.b", "radiator.r"]) | {
        "plate": {}, "block": {"b": BLOCK},
        "part": {"p": {"watts": "50 W", "heat_capacity": "100 J/K", "limit": "80 degC"}},
        "joint": {"j": {"between": ["part.p", "block.b"], "resistance": "0.1 K/W"}},
        "mishap": {"stop": {"at": "5 min", "stops": ["pump.p"]}},
        "option": {"o": {"mishaps": ["stop"]}},
    }  # fmt: skip
    results, facts = compare_study(case_of(**tables), tmp_path, where=Where(processes=1), draws=0)
    summaries = facts["options"]
    assert "rise without end" in run_text(summaries["o"], results["o"].case.spec)
    assert "↑ (" in compare_text(facts, 100)
    summary = summaries["o"]
    told = summary["parts"]["p"]
    # no more than the part and the block's coolant take the heat up: adiabatic, 100 J/K and 20 mL of water
    rate = 50 / (100 + 0.020 * 4180)
    assert 0.85 * 300 * rate < told["end_degc"] - told["steady_degc"] < 300 * rate
    assert told["over_limit_at_s"] > 300 + (80 - told["steady_degc"]) / rate
    assert told["steady_at_end_degc"] is None
    assert [must["name"] for must in summary["must_haves"] if must["met"] is False] == ["p limit"]
    assert summary["limits"][0]["name"] == "heat has no way out"


@pytest.mark.parametrize("law", ["hold", "curve", "switch"])
def test_a_governor_may_rest_above_a_standstill_that_carries_nothing(law):
    keys = {
        "hold": {"set_point": "55 degC", "gain": "3 %/K", "reset": "100 s"},
        "curve": {"curve": ["30 degC, 0 %", "60 degC, 100 %"]},
        "switch": {"on_above": "40 degC", "off_below": "30 degC"},
    }[law]
    tables = {
        "sheet": {"b": sheet()}, "part": {"p": part()}, "fan": {"f": FAN}, "airway": {"a": STREAM},
        "film": {"t": film(to="airway.a", h="40 W/m2K")},
        "governor": {"g": {"sensor": "part.p", "drives": ["fan.f"], "law": law} | keys},
    }  # fmt: skip
    model = build(case_of(**tables))
    steady = solve_steady(model)
    reading = steady.temperature[model.numbers("part.p")[0]]
    if law == "hold":
        assert reading == pytest.approx(55, abs=1e-4)
    elif law == "curve":
        assert steady.speeds["fan.f"] == pytest.approx((reading - 30) / 30, abs=1e-5)
    else:
        assert steady.speeds["fan.f"] == 1.0


def test_a_piece_that_nothing_cools_is_named():
    model = build(
        case_of(sheet={"b": sheet(), "idle": sheet(corner="200, 0 mm")}, part={"p": part()}, film={"t": film()})
    )
    with pytest.raises(NoPath, match=r"sheet\.idle has no path"):
        solve_steady(model)


def test_a_level_face_at_the_temperature_of_the_air_starts():
    # the film of a level plate vanishes with the difference (McAdams), and yet there is a steady state
    tables = {
        "part": {"p": {"watts": "3 W", "heat_capacity": "10 J/K", "size": "30 x 30 mm"}},
        "film": {"p": {"on": "part.p", "law": "natural", "orientation": "up", "length": "7.5 mm", "emissivity": 0}},
    }
    model = build(case_of(**tables))
    steady = solve_steady(model)
    assert abs(steady.residual) < 1e-6
    assert 200 < steady.temperature[0] < 260


def test_a_red_hot_face_is_still_a_number_and_its_range_is_noted(tmp_path):
    tables = {
        "part": {"p": {"watts": "200 W", "heat_capacity": "10 J/K", "size": "30 x 30 mm"}},
        "film": {"p": {"on": "part.p", "law": "natural", "orientation": "up", "length": "7.5 mm", "emissivity": 0.9}},
    }
    summary = run(case_of(**tables), tmp_path).summary
    # radiation alone: 200 W = 0.9 σ A (T⁴ − T_room⁴) gives 1172 °C; the natural film takes a little of it
    assert 1050 < summary["parts"]["p"]["steady_degc"] < 1172
    (told,) = [one for one in summary["limits"] if one["name"] == "correlation out of its range"]
    assert "dry air: temperature" in told["text"]


def test_what_is_out_of_range_only_on_the_way_is_not_noted(tmp_path):
    tables = {
        "part": {"p": {"watts": "3 W", "heat_capacity": "10 J/K", "size": "30 x 30 mm"}},
        "film": {"p": {"on": "part.p", "law": "natural", "orientation": "up", "length": "7.5 mm", "emissivity": 0.9}},
    }
    summary = run(case_of(**tables), tmp_path).summary
    assert summary["parts"]["p"]["steady_degc"] < 200
    assert not any(one["name"] == "correlation out of its range" for one in summary["limits"])


def test_a_pump_that_moves_nothing_does_not_boil_its_own_coolant():
    tables = loop_tables() | {
        "pump": {"p": {"curve": ["0 L/min, 30 kPa", "2 L/min, 0 kPa"], "heat": "2 W"}},
        "film": {"t": film(on="plate.c")},
        "mishap": {"lock": {"at": "60 s", "airlock": ["hose.h"]}},
        "option": {"o": {"mishaps": ["lock"]}},
    }  # fmt: skip
    model = build(case_of(**tables).with_option("o"))
    *_, last = Transient.of(model).steps(600)
    assert last.last.x[model.numbers("loop.m pump")[0]] < 40
    assert model.program.at(30, {}).supplied == pytest.approx(5)
    assert model.program.at(90, {}).supplied == pytest.approx(3)

"""Limits of the model are told once, by name, where they are met, and not where they are not."""

import pytest
from plain_cases import case_of, film, loop_tables, part, plate, sheet

from thermsim.case import Case
from thermsim.model.build import build
from thermsim.report.text import run_text
from thermsim.solve.steady import solve_steady
from thermsim.studies.limits.entry import ORDER, limit, together
from thermsim.studies.limits.heat import boiling, condensation, hot_air, pipes
from thermsim.studies.limits.passages import friction_span, passage_limits, transition
from thermsim.studies.run import run


def by_name(limits) -> dict:
    found = {one["name"]: one for one in limits}
    assert len(found) == len(limits), "each name once"
    return found


def settled(tables: dict):
    model = build(case_of(**tables))
    return model, solve_steady(model)


def test_a_run_tells_each_once_in_summary_and_text(tmp_path):
    # water at 3 L/min in a 6 mm hose: Re = 4 Q/(π D ν), about 11 000 at 25 °C; at 0.6 L/min 2400
    tables = loop_tables(flow="0.6 L/min")
    case = case_of(**tables, room={"temperature": "22 degC", "humidity": "95 %"})
    summary = run(case, tmp_path).summary
    told = by_name(summary["limits"])
    assert list(told) == sorted(told, key=ORDER.index)
    assert told["flow in transition"]["where"] == ["plate.c", "hose.h"]
    assert 1800 < told["flow in transition"]["reynolds_from"] < told["flow in transition"]["reynolds_to"] < 4000
    assert told["condensation"]["margin_k"] == pytest.approx(22 - 21.16, abs=0.1)  # dew point of 22 °C, 95 %: Magnus
    text = run_text(summary, case.spec)
    for name in told:
        assert text.count(f"limit: {name}") == 1
    assert "limit: flow in transition (plate.c, hose.h)" in text
    assert all("Reynolds" not in warning for warning in summary["warnings"])


def test_turbulent_flow_and_dry_air_tell_nothing(tmp_path):
    tables = loop_tables(flow="3 L/min")
    summary = run(case_of(**tables, room={"temperature": "22 degC", "humidity": "40 %"}), tmp_path).summary
    assert not {"flow in transition", "condensation"} & set(by_name(summary["limits"]))


def test_what_transition_may_cost_in_friction():
    # Blasius, f = 0.316 Re^-0.25 (Incropera & DeWitt equation 8.20a): at Re 2520 0.0446, laminar 64/Re 0.0254
    less, more = friction_span(2520.0, 64.0)
    assert more / less == pytest.approx(0.0446 / 0.0254, rel=0.03)
    assert friction_span(1900.0, 64.0)[0] == 1.0  # told as laminar already
    assert "still laminar" not in next(transition({"hose.a": (2305.0, 64.0)}))["text"]  # 1.00 times what is told
    assert "still laminar" in next(transition({"hose.a": (3000.0, 64.0)}))["text"]
    assert not list(transition({"hose.a": (1799.0, 64.0), "hose.b": (4001.0, 64.0)}))


def test_a_short_groove_told_as_long_is_on_the_safe_side():
    def limits(**channel):
        cold = plate()
        cold["channel"] |= {"width": "6 mm", "depth": "3 mm", "entry": "developed"} | channel
        model, steady = settled(loop_tables(flow="0.25 L/min") | {"plate": {"c": cold}, "part": {"p": hot}})
        return by_name(list(passage_limits(model, [steady])))

    hot = part(on="plate.c", watts="60 W")
    told = limits()["short passage"]
    assert told["where"] == ["plate.c"]
    # water, D 4 mm, 0.23 m, Re 1000, Pr 6: Gz about 110; Hausen's entry term 0.0668 Gz/(1 + 0.04 Gz^(2/3)): 3.8 on 3.4
    assert told["film_gain"] == pytest.approx(2.1, abs=0.25)
    assert told["too_warm_k"] > 0.5
    assert "short passage" not in limits(entry="developing")


AIRWAY = {"corner": "0, 0 mm", "size": "100 x 60 mm", "height": "20 mm", "segments": 10}


def test_a_part_downstream_stands_in_air_hotter_than_its_limit():
    def limits(degc: float):
        parts = {
            "hot": part(centre="20, 30 mm", watts="40 W", limit="400 degC"),
            "late": part(centre="85, 30 mm", watts="0.1 W", limit=f"{degc} degC"),
        }
        tables = {
            "sheet": {"b": sheet()}, "part": parts, "airway": {"a": AIRWAY | {"flow": "2 m3/h"}},
            "film": {"t": film(to="airway.a", h="60 W/m2K")},
        }  # fmt: skip
        model, steady = settled(tables)
        return by_name(list(hot_air(model, steady.conditions.temperature)))

    # 40 W into 2 m³/h: 60 K (1.18 kg/m³, 1006 J/kgK), so 70 to 80 °C near the outlet
    told = limits(60.0)["air hotter than a part's limit"]
    assert told["where"] == ["part.late"]
    assert 65 < told["air_degc"] < 84
    assert not limits(90.0)


def test_heat_pipes_by_their_load():
    def pipe(load: float, margin: float = 1.0):
        return {"load_w": load, "capacity_w": 50.0, "wanted_margin": margin, "carries": margin * load <= 50.0}

    told = by_name(list(pipes({"a": pipe(60.0), "b": pipe(45.0), "c": pipe(39.0), "d": pipe(39.0, 1.3)})))
    assert told["heat pipe over its capacity"]["where"] == ["heat_pipe.a"]
    assert told["heat pipe near its capacity"]["where"] == ["heat_pipe.b", "heat_pipe.d"]


def test_boiling_and_dew_have_their_bounds():
    assert not list(boiling({"m": 94.0}))
    assert "near boiling" in next(boiling({"m": 97.0}))["text"]
    assert "it boils" in next(boiling({"m": 130.0}))["text"]
    dew = {"dew_point_degc": 10.0, "coldest_degc": 12.5, "margin_k": 2.5, "coldest_at": "plate.c"}
    assert not list(condensation(dew))
    assert next(condensation(dew, 3.0))["where"] == ["plate.c"]


def test_options_together_tell_the_gravest_of_a_name():
    told = {
        "a": [limit("condensation", ["plate.a"], "little", 1.0)],
        "b": [limit("condensation", ["plate.b"], "much", 9.0)],
    }
    (one,) = together(told)
    assert (one["text"], one["worst_in"], one["options"]) == ("much", "b", ["a", "b"])
    assert one["where"] == ["plate.b", "plate.a"]
    assert together({"a": told["a"], "c": told["a"]})[0]["worst_in"] is None


def test_edges_closer_than_the_grid_merges_are_told(tmp_path):
    case = case_of(
        sheet={"b": sheet()}, part={"p": part(), "q": part(centre="75.1, 30 mm", size="30 x 10 mm")}, film={"t": film()}
    )
    told = by_name(run(case, tmp_path).summary["limits"])["grid lines merged"]
    assert told["where"] == ["x = 60.1 mm"]
    assert told["moved_mm"] == pytest.approx(0.1)


def test_a_case_without_limits_says_none(tmp_path):
    case = Case.from_dict(
        {"case": {"title": "block"}, "room": {"temperature": "20 degC"}, "run": {"duration": "2 h", "cell": "10 mm"}}
        | {"part": {"p": {"watts": "1 W", "heat_capacity": "10 J/K", "size": "50 x 50 mm"}}}
        | {"film": {"p": {"on": "part.p", "law": "fixed", "h": "20 W/m2K"}}}
    )
    summary = run(case, tmp_path).summary
    assert summary["limits"] == []
    assert "limit:" not in run_text(summary, case.spec)

"""Mishaps against closed forms, against what a stopped pump leaves, and against the study's own promises."""

import json
from math import log, pi, sqrt

import numpy as np
import pytest
from click.testing import CliRunner

from thermsim.case import Case, CaseError
from thermsim.cli import cli
from thermsim.model.fill import fill_after
from thermsim.model.operating import MINIMUM_STREAM
from thermsim.studies.mishap import study
from thermsim.studies.mishap.cases import calm_case, scaled, struck_case
from thermsim.studies.mishap.history import history_of
from thermsim.studies.mishap.strike import strike
from thermsim.studies.mishap.troubles import troubles
from thermsim.studies.settled import Settler
from thermsim.studies.where import Where

ROOM = 22.0
# a part of 10 W under a block of 45 J/K: the film to the room takes 0.1 W/K, the coolant the rest while it moves
CAPACITY, LEAK, WATTS = 50.0, 0.1, 10.0
LUMP = {
    "case": {"title": "lump"},
    "room": {"temperature": f"{ROOM} degC", "humidity": "40 %"},
    "run": {"duration": "10 min", "frames": 3},
    "part": {"p": {"size": "100 x 100 mm", "watts": f"{WATTS} W", "limit": "60 degC", "heat_capacity": "5 J/K"}},
    "film": {"p": {"on": "part.p", "law": "fixed", "h": "10 W/m2K"}},
    "block": {"b": {
        "resistance": "0.1 K/W", "at_flow": "1 L/min", "exponent": 0.5, "volume": "10 mL", "heat_capacity": "45 J/K",
        "drop": "5 kPa", "drop_at": "1 L/min",
    }},
    "joint": {"j": {"between": ["part.p", "block.b"], "resistance": "0.001 K/W"}},
    "pump": {"p": {"curve": ["0 L/min, 30 kPa", "2 L/min, 0 kPa"]}},
    "hose": {"h": {"length": "1 m", "bore": "6 mm"}},
    "fan": {"f": {"curve": ["0 m3/h, 30 Pa", "60 m3/h, 0 Pa"]}},
    "airway": {"a": {"fans": ["fan.f"], "resistance": "0.01 Pa/(m3/h)2"}},
    "radiator": {"r": {
        "airway": "airway.a", "conductance": "10 W/K", "at_flow": "30 m3/h", "exponent": 0.5, "still": "0.5 W/K",
        "volume": "50 mL", "drop": "2 kPa", "drop_at": "1 L/min",
    }},
    "reservoir": {"t": {"volume": "60 mL"}},
    "loop": {"m": {"pump": "pump.p", "coolant": "water", "path": ["hose.h", "block.b", "radiator.r", "reservoir.t"]}},
}  # fmt: skip


def lump(**more) -> Case:
    return Case.from_dict(LUMP | more)


def told(case: Case, name: str) -> dict:
    return strike(case, troubles(case)[name])


def toml(tables: dict, path: str = "") -> str:
    """Nested tables as TOML."""
    plain = {key: value for key, value in tables.items() if not isinstance(value, dict)}
    lines = [f"[{path}]"] if plain and path else []
    lines += [f"{key} = {json.dumps(value)}" for key, value in plain.items()]
    for key, value in tables.items():
        if isinstance(value, dict):
            lines.append(toml(value, f"{path}.{key}".lstrip(".")))
    return "\n".join(lines)


def call(*arguments) -> tuple[int, str, BaseException | None]:
    done = CliRunner().invoke(cli, ["mishap", *map(str, arguments), "--no-figures"])
    return done.exit_code, done.output, done.exception


# --- closed forms, through the command -------------------------------------------------------------------


def test_a_bead_whose_gas_turns_hot(tmp_path):
    # Incropera & DeWitt, 6th ed., example 5.1: a thermocouple bead of 7.06e-4 m and τ = 1 s, at first at 25 °C, is at
    # 199 °C in gas of 200 °C after 5.2 s; −ln(1/175) is 5.165
    side = 6 * 400 / (8500 * 400)
    file = tmp_path / "bead.toml"
    file.write_text(toml({
        "case": {"title": "bead"}, "room": {"temperature": "25 degC"}, "run": {"tolerance": "0.001 K"},
        "part": {"bead": {
            "size": f"{sqrt(pi) * side} x {sqrt(pi) * side} m", "watts": "0 W", "limit": "199 degC",
            "heat_capacity": f"{8500 * 400 * pi * side**3 / 6} J/K",
        }},
        "film": {"gas": {"on": "part.bead", "law": "fixed", "h": "400 W/m2K"}},
        "mishap": {"hot": {"at": "0 s", "room_rise": "175 K"}},
    }))  # fmt: skip
    status, output, _ = call(file, "-m", "hot", "-o", tmp_path, "--json")
    assert status == 0, output
    (case,) = json.loads(output)["cases"]
    assert case["first_over"]["part"] == "bead"
    assert case["first_over"]["time_s"] == pytest.approx(5.165, abs=2e-3)
    assert case["ends"]["worst_margin_k"] == pytest.approx(-1.0, abs=1e-6)
    assert case["safe_power"] is None
    assert json.loads((tmp_path / "mishap.json").read_text())["cases"] == [case]


def test_a_stopped_pump_leaves_an_exponential(tmp_path):
    # one lump: C dT/dt = W − G (T − T_room), any text (Incropera & DeWitt, section 5.3)
    file = tmp_path / "lump.toml"
    file.write_text(toml(LUMP))
    status, output, _ = call(file, "-m", "pump.p stops", "-o", tmp_path, "--json")
    assert status == 0, output
    (case,) = json.loads(output)["cases"]
    before, end = case["settled_before_degc"]["p"], ROOM + WATTS / LEAK
    expected = CAPACITY / LEAK * log((end - before) / (end - 60.0))
    assert case["first_over"]["time_s"] == pytest.approx(expected, rel=2e-3)
    assert case["ends"]["parts_degc"]["p"] == pytest.approx(end, abs=0.01)
    assert case["ends"]["settled"]
    # and the bound: every watt kept, in the part alone, and in the part with its block
    assert case["adiabatic"]["time_s"] == pytest.approx(5.0 * (60 - before) / WATTS)
    assert case["adiabatic"]["time_with_s"] == pytest.approx(CAPACITY * (60 - before) / WATTS)
    assert case["adiabatic"]["with"] == ["block.b"]
    assert case["adiabatic"]["time_with_s"] < case["first_over"]["time_s"]
    # alarms by the same exponential; the lead is what is left
    for alarm in case["alarms"]:
        if alarm["of"] == "part p":
            rings = CAPACITY / LEAK * log((end - before) / (end - before - alarm["rise_k"]))
            assert alarm["rings_s"] == pytest.approx(rings, rel=5e-3, abs=0.05)
            assert alarm["lead_s"] == pytest.approx(expected - rings, rel=5e-3)
    # safe for ever: G (limit − T_room)
    assert case["safe_power"]["watts"] == pytest.approx(LEAK * (60 - ROOM), rel=2e-3)
    assert case["safe_power"]["factor"] == pytest.approx(LEAK * (60 - ROOM) / WATTS, rel=2e-3)
    assert case["safe_power"]["part"] == "p"


# --- what is left when a pump or fan stands ---------------------------------------------------------------


def test_stagnant_coolant_carries_nothing_and_the_radiator_is_still():
    case = lump()
    calm = calm_case(case, None)
    before = Settler().settle(calm)
    history = history_of(before, struck_case(calm, troubles(case)["pump.p stops"], before.speeds))
    end, model = history.end, history.model
    streams = [k for k, group in enumerate(model.groups) if group.kind == "coolant stream"]
    assert streams
    for k in streams:
        assert np.all(np.asarray(end.strengths[k]) <= MINIMUM_STREAM)
        group = model.groups[k]
        moved = model.flow(group, end.strengths[k], end.conditions.temperature)
        assert np.abs(moved).max() < 1e-3 * WATTS
    by_name = {group.name: k for k, group in enumerate(model.groups)}
    assert end.strengths[by_name["radiator.r"]] == 0.0
    assert end.strengths[by_name["radiator.r still"]] == 0.5
    assert before.steady.strengths[[g.name for g in before.model.groups].index("radiator.r")] > 1.0
    assert history.part("p")[-1] > before.parts["p"] + 30


def test_a_radiator_without_its_fan_gives_what_it_gives_still():
    # at rest all of the part's watts pass the film and the radiator's 0.5 W/K, in series with the block's resistance;
    # flow from the pump against the drops, found by the model
    case = told(lump(), "fan.f stops")
    end = case["ends"]["parts_degc"]["p"]
    rise = WATTS / (LEAK + 0.5)  # were the block of no resistance
    assert ROOM + rise < end < ROOM + rise + WATTS * 0.12
    assert case["first_over"] is None
    assert case["safe_power"]["factor"] > 1


def test_coolant_lost_lowers_the_level_and_then_stops_the_flow():
    # 1 m of 6 mm bore holds 28.27 mL, with 10 + 50 + 60 in all 148.27 mL
    total = 10 + 50 + 60 + pi * 9
    lump_spec = lump().spec
    assert fill_after(lump_spec, "m", 0.3).reservoir == pytest.approx(1 - 0.3 * total / 60)
    dry = fill_after(lump_spec, "m", 0.5)
    assert dry.runs_dry
    assert dry.elsewhere == pytest.approx(1 - (0.5 * total - 60) / (total - 60))
    low = told(lump(), "loop.m low")
    assert low["level"] == {"m": {"reservoir_left": pytest.approx(1 - 0.3 * total / 60), "pump_draws_air": False}}
    assert low["first_over"] is None
    assert low["ends"]["parts_degc"] == pytest.approx(low["settled_before_degc"], abs=1e-3)
    assert low["alarms"][0]["of"] == "level switch of reservoir.t"
    gone = lump(mishap={"leak": {"at": "1 min", "coolant_lost": {"loop.m": "50 %"}}})
    dry, stopped = told(gone, "leak"), told(gone, "pump.p stops")
    assert dry["level"]["m"]["pump_draws_air"]
    assert dry["ends"]["parts_degc"]["p"] == pytest.approx(stopped["ends"]["parts_degc"]["p"], abs=1e-3)
    assert "flow switch of loop m" in [alarm["of"] for alarm in dry["alarms"]]
    with pytest.raises(CaseError, match="there is no loop"):
        lump(mishap={"leak": {"at": "1 min", "coolant_lost": {"n": "50 %"}}})


def test_less_coolant_is_less_heat_capacity():
    case = lump(mishap={"leak": {"at": "1 min", "coolant_lost": {"m": "30 %"}}})
    calm = calm_case(case, None)
    before = Settler().settle(calm)
    struck = history_of(before, struck_case(calm, troubles(case)["leak"], before.speeds)).model
    lost = 0.3 * (120 + pi * 9) * 1e-6  # m³ of water at 22 °C: 4.17 MJ/m³K (CoolProp)
    assert before.model.capacity.sum() - struck.capacity.sum() == pytest.approx(lost * 4.17e6, rel=2e-3)


def test_an_airlocked_branch_starves_and_the_other_takes_the_flow():
    other = {"q": LUMP["part"]["p"] | {"watts": "5 W"}}
    branches = {
        "part": LUMP["part"] | other, "block": LUMP["block"] | {"c": LUMP["block"]["b"]},
        "film": LUMP["film"] | {"q": LUMP["film"]["p"] | {"on": "part.q"}},
        "joint": LUMP["joint"] | {"k": {"between": ["part.q", "block.c"], "resistance": "0.001 K/W"}},
        "loop": {"m": LUMP["loop"]["m"] | {"path": ["hose.h", ["block.b", "block.c"], "radiator.r", "reservoir.t"]}},
    }  # fmt: skip
    case = lump(**branches)
    assert not [name for name in troubles(lump()) if "airlocked" in name]  # only where there are branches
    found = told(case, "block.b airlocked")
    ends, before = found["ends"]["parts_degc"], found["settled_before_degc"]
    assert ends["p"] == pytest.approx(ROOM + WATTS / LEAK, abs=0.1)
    assert ends["q"] < before["q"]
    assert found["first_over"]["part"] == "p"
    assert found["alarms"][0]["of"] == "flow switch beside block.b"


# --- the study's own promises ----------------------------------------------------------------------------


def test_the_safe_power_is_where_the_margin_ends():
    case = lump()
    found = told(case, "pump.p stops")["safe_power"]
    calm = calm_case(case, None)
    before = Settler().settle(calm)
    struck = struck_case(calm, troubles(case)["pump.p stops"], before.speeds)
    inside, outside = (Settler().settle(scaled(struck, found["factor"] + by)).worst[1] for by in (-0.01, 0.01))
    assert inside > 0 > outside


def test_no_watts_are_safe_in_a_room_above_the_limit():
    hot = told(lump(mishap={"fire": {"at": "0 s", "room_rise": "40 K"}}), "fire")
    assert hot["safe_power"] == {"factor": 0.0, "at_least": False, "watts": 0.0, "part": "p"}
    assert hot["heated_from_outside"] is (hot["first_over"]["time_s"] < hot["adiabatic"]["time_s"])


def test_heat_without_a_way_out_rises_on():
    film = {"p": LUMP["film"]["p"] | {"h": "0 W/m2K"}}
    found = told(lump(film=film), "pump.p stops")
    assert found["ends"]["coldest_degc"] is None
    assert not found["ends"]["rests"]
    assert found["safe_power"]["factor"] == 0.0
    # every watt stays: the bound is met
    assert found["first_over"]["time_s"] == pytest.approx(found["adiabatic"]["time_with_s"], rel=5e-3)


def test_a_governor_starts_where_it_had_settled():
    governor = {"g": {
        "sensor": "part.p", "drives": ["fan.f"], "law": "hold", "set_point": "26 degC", "gain": "4 %/K",
        "reset": "60 s", "min_speed": "10 %",
    }}  # fmt: skip
    case = lump(governor=governor, mishap={"breath": {"at": "0 s", "room_rise": "0.001 K"}})
    calm = calm_case(case, None)
    before = Settler().settle(calm)
    assert 0.1 < before.speeds["fan.f"] < 1.0
    history = history_of(before, struck_case(calm, troubles(case)["breath"], before.speeds))
    assert np.abs(history.part("p") - 26.0).max() < 0.05


def test_duties_are_held_as_when_the_mishap_strikes():
    duty = {"d": {"of": "part.p.watts", "points": ["0 min, 2 W", "5 min, 8 W"]}}
    case = lump(duty=duty, mishap={"early": {"at": "1 min", "stops": ["pump.p"]}})
    found = troubles(case)
    assert "pump.p stops" not in found  # the file has it already
    assert strike(case, found["early"])["watts"] == pytest.approx(2.0)
    assert strike(case, found["fan.f stops"])["watts"] == pytest.approx(8.0)  # as at the end of the run


def test_a_mishap_that_passes_leaves_what_was_before():
    found = told(lump(mishap={"pause": {"at": "5 min", "ends": "6 min", "stops": ["pump.p"]}}), "pause")
    assert found["ends"]["parts_degc"] == pytest.approx(found["settled_before_degc"], abs=1e-3)
    assert max(found["history"]["parts_degc"]["p"]) > found["settled_before_degc"]["p"] + 5
    assert found["safe_power"]["factor"] < 1  # were it to last


def test_interrupted_and_called_again(tmp_path):
    names = ["pump.p stops", "fan.f stops", "room +8 K"]
    whole = study.mishap(lump(), tmp_path / "whole", names=names)

    def stop(done: float, total: float) -> None:
        assert total == 3
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study.mishap(lump(), tmp_path / "again", names=names, where=Where(processes=1), progress=stop)
    assert not (tmp_path / "again" / "mishap.json").exists()
    kept = (tmp_path / "again" / "mishap.kept.jsonl").read_text().count('"key"')
    assert 1 <= kept < 3
    done = []
    again = study.mishap(lump(), tmp_path / "again", names=names, progress=lambda now, all_: done.append(now))
    assert len(done) == 3 - kept
    assert again == whole


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["-p", "hybird"], 'unknown option "hybird"; did you mean "hybrid"?'),
        (["-m", "pump.p stop"], 'no mishap "pump.p stop" concerns what is looked at; did you mean "pump.p stops"?'),
        (["--set", "mishap.leak.coolant_lost.m=140 %"], "coolant_lost"),
    ],
)
def test_wrong_settings_are_told_plainly(tmp_path, arguments, message):
    file = tmp_path / "lump.toml"
    leak = {"leak": {"at": "1 min", "coolant_lost": {"m": "50 %"}}}
    file.write_text(toml(LUMP | {"mishap": leak, "option": {"hybrid": {"note": "the same"}}}))
    _, _, error = call(file, *arguments, "-o", tmp_path)
    assert isinstance(error, CaseError)
    assert message in str(error)
    assert error.exit_status == 2


def test_text_and_figures(tmp_path):
    file = tmp_path / "lump.toml"
    file.write_text(toml(LUMP))
    done = CliRunner().invoke(
        cli, ["mishap", str(file), "-m", "pump.p stops", "-m", "fan.f stops", "-o", str(tmp_path)]
    )
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert lines[1].startswith("• base case: pump.p stops: ")
    told = " ".join(lines[1:4]).replace("  ", " ")
    assert "within all limits for ever up to 37 % of the parts' watts (3.7 W)" in told
    assert {path.name for path in tmp_path.glob("*.png")} == {"mishap-curves.png", "mishap-times.png"}

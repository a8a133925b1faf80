"""What the model says where a channel was read: against the summary of the same run, and against mixing by hand."""

import numpy as np
import pytest

from thermsim.bench.readings import modelled, readings_of
from thermsim.case import Case
from thermsim.solve.reduced.family import Family
from thermsim.studies.run import run

PLATE = {
    "corner": "0, 0 mm", "size": "60 x 40 mm", "thickness": "8 mm", "conductivity": "160 W/mK",
    "heat_density": "2.4e6 J/m3K",
    "channel": {"path": ["5, 10 mm", "55, 10 mm", "55, 30 mm", "5, 30 mm"], "width": "4 mm", "depth": "4 mm"},
}  # fmt: skip
END = 1800.0
TIMES = np.array([0.0, 60.0, 600.0, END])


@pytest.fixture(scope="module")
def box() -> Case:
    """Two plates side by side, one with twice the watts and a long thin hose, before one radiator."""
    return Case.from_dict({
        "case": {"title": "check"}, "room": {"temperature": "22 degC", "humidity": "45 %", "noise_floor": "12 dB(A)"},
        "run": {"duration": f"{END} s", "cell": "10 mm", "frames": 3},
        "plate": {"one": PLATE, "two": PLATE | {"corner": "80, 0 mm", "channel": PLATE["channel"] | {
            "path": ["85, 10 mm", "135, 10 mm", "135, 30 mm", "85, 30 mm"]}}},
        "part": {
            "a": {"on": "plate.one", "centre": "30, 20 mm", "size": "20 x 20 mm", "watts": "20 W",
                  "to_board": "0.3 K/W", "heat_capacity": "8 J/K"},
            "b": {"on": "plate.two", "centre": "110, 20 mm", "size": "20 x 20 mm", "watts": "40 W",
                  "to_board": "0.3 K/W", "heat_capacity": "8 J/K"},
        },
        "probe": {"corner": {"on": "plate.one", "at": "55, 35 mm"}},
        "pump": {"p": {"curve": ["0 L/min, 30 kPa", "2 L/min, 0 kPa"], "heat": "4 W"}},
        "hose": {
            "thin": {"length": "2 m", "bore": "3 mm"}, "wide": {"length": "1 m", "bore": "6 mm"},
            "back": {"length": "1 m", "bore": "6 mm"},
        },
        "fan": {"f": {"curve": ["0 m3/h, 30 Pa", "60 m3/h, 0 Pa"], "noise": "24 dB(A)", "heat": "1 W"}},
        "airway": {"a": {"fans": ["fan.f"], "resistance": "0.01 Pa/(m3/h)2"}},
        "radiator": {"r": {
            "airway": "airway.a", "conductance": "12 W/K", "at_flow": "40 m3/h", "exponent": 0.5, "volume": "50 mL",
            "drop": "2 kPa", "drop_at": "1 L/min",
        }},
        "governor": {"g": {
            "sensor": "part.b", "drives": ["fan.f"], "law": "hold", "set_point": "45 degC", "gain": "4 %/K",
            "reset": "100 s", "min_speed": "30 %",
        }},
        "loop": {"m": {
            "pump": "pump.p", "coolant": "water",
            "path": [[["hose.thin", "plate.one"], ["hose.wide", "plate.two"]], "hose.back", "radiator.r"],
        }},
    })  # fmt: skip


CHANNELS = (
    "part.a", "part.b", "probe.corner", "room", "humidity", "airway.a.inlet", "airway.a.outlet", "airway.a.flow",
    "plate.one.inlet", "plate.one.outlet", "plate.two.outlet", "hose.back.inlet", "hose.back.outlet",
    "radiator.r.inlet", "radiator.r.outlet",
    "loop.m.flow", "loop.m.pressure", "fan.f", "pump.p", "supply.watts", "part.a.watts",
    "noise", "noise.background", "supply.volts", "event", "plate.three.inlet", "part.z", "airway.z.flow", "loop.z.flow",
)  # fmt: skip


@pytest.fixture(scope="module")
def told(box) -> dict:
    """The model's values of all channels it has."""
    return modelled(box, CHANNELS, TIMES)


def test_what_the_model_has_nothing_for_is_left_out(told):
    missing = {"supply.volts", "event", "plate.three.inlet", "part.z", "airway.z.flow", "loop.z.flow"}
    assert set(told) == set(CHANNELS) - missing


def test_channels_read_what_the_summary_tells(box, told, tmp_path):
    summary = run(box, tmp_path).summary
    end = {channel: values[-1] for channel, values in told.items()}
    loop, air = summary["coolant"]["m"], summary["air"]["a"]
    expected = {
        "part.a": summary["parts"]["a"]["end_degc"], "part.b": summary["parts"]["b"]["end_degc"],
        "airway.a.inlet": 22.0, "airway.a.outlet": air["outlet_degc"], "airway.a.flow": air["flow_m3_per_s"],
        "loop.m.flow": loop["flow_l_per_min"] / 6e4, "loop.m.pressure": loop["pressure_pa"],
        "radiator.r.inlet": loop["radiators"]["radiator.r"]["coolant_in_degc"],
        "fan.f": summary["speeds"]["fan.f"], "noise": summary["noise"]["with_room_dba"],
        "probe.corner": summary["probes"]["corner"]["steady_degc"], "supply.watts": summary["ledger"]["supplied_w"],
    }  # fmt: skip
    for channel, value in expected.items():
        assert end[channel] == pytest.approx(value, rel=2e-3), channel
    assert told["part.b"][0] == pytest.approx(22.0)
    assert 22 < told["part.b"][1] < told["part.b"][2]


def test_coolant_that_meets_is_mixed_by_flow(told):
    """Heat capacity rates weigh: the branches differ by a factor in flow, and a plain mean would be off."""
    one, two, mixed = (told[f"{at}"][-1] for at in ("plate.one.outlet", "plate.two.outlet", "hose.back.inlet"))
    assert mixed == pytest.approx(told["hose.back.outlet"][-1], abs=0.02)
    assert abs(mixed - (one + two) / 2) > 0.1
    carried = told["loop.m.flow"][-1] * 997 * 4180 * (mixed - told["radiator.r.outlet"][-1])
    assert carried == pytest.approx(64.0, rel=0.01)  # both parts' watts and the pump's


def test_coolant_enters_as_it_left_what_comes_before(told):
    assert told["radiator.r.inlet"] == pytest.approx(told["hose.back.outlet"], abs=1e-9)


def test_watts_supplied_are_those_of_parts_fans_and_pump(told):
    fan = told["fan.f"][-1] ** 3
    assert told["supply.watts"][-1] == pytest.approx(20 + 40 + 4 + fan)
    assert told["part.a.watts"][-1] == 20.0


def test_a_stored_result_tells_the_same_where_it_has_a_curve(box, told, tmp_path):
    stored = readings_of(box, run(box, tmp_path), CHANNELS, TIMES)
    for channel in ("part.a", "probe.corner", "airway.a.outlet", "airway.a.flow", "plate.two.outlet",
                    "radiator.r.outlet", "loop.m.flow", "fan.f", "noise"):  # fmt: skip
        assert stored[channel][1:] == pytest.approx(told[channel][1:], rel=2e-3), channel
    assert "hose.back.inlet" not in stored
    assert np.isnan(readings_of(box, run(box, tmp_path), ["part.a"], np.array([-1.0, END + 1]))["part.a"]).all()


def test_a_family_tells_the_same(box):
    warmer = box.with_changes({"part.a.watts": "24 W"})
    family = Family.grow([box, box.with_changes({"part.a.watts": "30 W"})])
    history = family.history(warmer)
    assert history is not None
    fast = readings_of(warmer, history, CHANNELS, TIMES)
    slow = modelled(warmer, CHANNELS, TIMES)
    assert set(fast) == set(slow)
    for channel, values in slow.items():
        # a minute in the governor takes over, and the flow changes fast
        within = {"rel": 0.015} if channel.endswith(("flow", "pressure")) or channel == "fan.f" else {"abs": 0.05}
        assert fast[channel] == pytest.approx(values, **within), channel


def test_outside_the_history_nothing_is_said(box):
    values = modelled(box, ["part.a", "room"], np.array([-5.0, 0.0, END, END + 1]))
    assert np.isnan(values["part.a"]).tolist() == [True, False, False, True]
    assert np.isnan(values["room"]).tolist() == [True, False, False, True]

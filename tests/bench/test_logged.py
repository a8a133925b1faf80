"""A case driven by what was logged."""

from pathlib import Path

import numpy as np
import pytest

from thermsim.bench.logged import as_logged, inputs_of, start_degc, thinned
from thermsim.bench.logs.log import Log
from thermsim.bench.readings import modelled
from thermsim.case import Case, CaseError

TIME = np.arange(0.0, 3601.0, 10.0)


def a_log(time=TIME, texts=None, **readings) -> Log:
    """A log of channels by name; `_` in a keyword stands for the dots of a channel."""
    columns = {name.replace("_", "."): np.broadcast_to(values, time.shape) for name, values in readings.items()}
    return Log("run", Path("run.csv"), time, columns, texts or {}, None, ())


def lump(**more) -> Case:
    """A part of 4 W on 0.5 W/K to the room: 100 s."""
    return Case.from_dict({
        "case": {"title": "one lump"}, "room": {"temperature": "22 degC"}, "run": {"duration": "5 min"},
        "part": {"a": {"watts": "4 W", "heat_capacity": "50 J/K", "size": "100 x 100 mm"}},
        "film": {"f": {"on": "part.a", "law": "fixed", "h": "50 W/m2K"}},
    } | more)  # fmt: skip


def stream(**inlet) -> Case:
    """A part of 4 W in a pinned stream."""
    return lump(
        airway={"w": {"flow": "10 m3/h", "corner": "0, 0 mm", "size": "100 x 100 mm", "height": "10 mm"} | inlet},
        film={"f": {"on": "part.a", "law": "fixed", "h": "50 W/m2K", "to": "airway.w"}},
        part={"a": {"watts": "4 W", "heat_capacity": "50 J/K", "size": "100 x 100 mm"}},
    )


def end_of(case: Case, channel: str = "part.a") -> float:
    """What the model says at the end."""
    return float(modelled(case, [channel], np.array([case.spec.run.duration]))[channel][-1])


def test_the_room_as_it_drifted_moves_the_part():
    """Newton's cooling of one lump: a room that rises at a rate r is followed r·τ behind, τ = 50 J/K / 0.5 W/K.

    Incropera & DeWitt, 6th ed., section 5.1, the lumped capacitance method, with the room a ramp.
    """
    rate = 1.0 / 3600
    case = as_logged(lump(), a_log(room=21.0 + rate * TIME, part_a=21.0))
    assert case.spec.run.duration == 3600
    assert end_of(case) == pytest.approx(21.0 + rate * (3600 - 100) + 4 / 0.5, abs=0.02)
    assert end_of(case, "room") == pytest.approx(22.0, abs=5e-3)


def test_it_starts_from_what_the_first_readings_tell():
    first = np.where(TIME == 0, 25.0, 60.0)
    assert start_degc(a_log(room=22.0, part_a=first, part_b=first + 1, part_c=first + 0.4)) == pytest.approx(25.4)
    assert start_degc(a_log(room=22.0, part_a=np.where(TIME == 0, np.nan, 60.0))) == 22.0
    assert start_degc(a_log(time=TIME + 30, room=22.0, part_a=60.0)) == 22.0  # nothing was read at switch-on
    assert start_degc(a_log(supply_volts=24.0)) is None
    assert as_logged(lump(), a_log(room=22.0, part_a=first)).spec.run.start == 25.0


def test_a_log_without_room_leaves_the_case_its_room():
    assert as_logged(lump(), a_log(part_a=22.0)).spec.room.temperature == 22.0


def test_logged_watts_drive_a_part():
    case = as_logged(lump(), a_log(room=22.0, part_a_watts=6.0))
    assert end_of(case) == pytest.approx(22 + 6 / 0.5, abs=0.02)


def test_a_logged_inlet_drives_the_stream_unless_it_comes_from_another_airway():
    log = a_log(room=22.0, airway_w_inlet=17.0)
    assert inputs_of(stream(), log.readings) == ["room", "airway.w.inlet"]
    warmed = end_of(as_logged(stream(), a_log(room=22.0)), "airway.w.outlet") - 22
    assert end_of(as_logged(stream(), log), "airway.w.outlet") == pytest.approx(17 + warmed, abs=0.05)
    fixed = stream(inlet="30 degC")
    assert end_of(as_logged(fixed, log), "airway.w.inlet") == pytest.approx(17.0)


def test_an_inlet_tied_to_the_room_follows_it():
    case = as_logged(stream(), a_log(room=25.0))
    assert end_of(case, "airway.w.inlet") == pytest.approx(25.0)


def test_it_takes_the_place_of_what_moved_the_room_before():
    moved = lump(duty={"day": {"of": "room.temperature", "points": ["0 s, 10 degC"]}})
    case = as_logged(moved, a_log(room=23.0))
    assert list(case.spec.duty) == ["logged room.temperature"]
    again = as_logged(case, a_log(room=26.0))
    assert end_of(again, "room") == pytest.approx(26.0)


def test_states_come_as_they_were():
    by_state = {"a": {"watts": {"idle": "1 W", "play": "4 W"}, "heat_capacity": "50 J/K", "size": "100 x 100 mm"}}
    box = lump(part=by_state, run={"state": "idle", "duration": "5 min"})
    log = a_log(room=22.0, texts={"state": ((0.0, "idle"), (1800.0, "play"))})
    watts = modelled(as_logged(box, log), ["part.a.watts"], np.array([0.0, 1700.0, 1900.0, 3600.0]))["part.a.watts"]
    assert watts.tolist() == [1.0, 1.0, 4.0, 4.0]
    steady = as_logged(box, a_log(room=22.0, texts={"state": ((0.0, "play"),)}))
    assert steady.spec.run.state == "play"
    assert "logged state" not in steady.spec.duty
    with pytest.raises(
        CaseError, match=r'run\.csv: state: part\.a has no watts for the logged state "pley"; did you mean "play"'
    ):
        as_logged(box, a_log(room=22.0, texts={"state": ((0.0, "pley"),)}))


def test_points_are_means_and_straight_over_gaps():
    rng = np.random.default_rng(4)
    noisy = 20 + TIME / 3600 + rng.normal(0, 0.05, TIME.size)
    noisy[(TIME > 900) & (TIME < 1500)] = np.nan
    at, values = thinned(TIME, noisy)
    assert at[[0, -1]].tolist() == [0.0, 3600.0]
    assert at.size == 61
    assert np.abs(values - (20 + at / 3600)).max() < 0.08  # six readings a point: 0.02 K each, and the ends three
    assert np.abs((values - (20 + at / 3600))[1:-1]).std() < 0.015  # 0.02 K, by (1, 4, 6, 4, 1) / 16 half of it


def test_smoothing_keeps_a_slope_and_a_slow_swing():
    at, values = thinned(TIME, 22 + 1.0 * TIME / 3600)
    assert np.abs(values - 22 - at / 3600)[3:-3].max() < 1e-9
    assert np.abs(values - 22 - at / 3600).max() < 0.005  # the ends, whose readings lie to one side
    swing = np.sin(2 * np.pi * TIME / 900)  # an air conditioner that comes and goes every quarter of an hour
    at, values = thinned(TIME, 22 + 0.5 * swing)
    assert np.abs(values - 22 - 0.5 * np.sin(2 * np.pi * at / 900)).max() < 0.07


def test_a_change_may_bring_a_new_duty_but_no_other_table():
    driven = lump().with_changes({"duty.day": {"of": "room.temperature", "points": ["0 s, 10 degC"]}})
    assert driven.spec.duty["day"].of == "room.temperature"
    with pytest.raises(CaseError, match='unknown part "b"'):
        lump().with_changes({"part.b": {"watts": "1 W"}})
    with pytest.raises(CaseError, match=r"--set: duty\.day\.of: .*does not change with time"):
        lump().with_changes({"duty.day": {"of": "room.humidity", "points": ["0 s, 10 %"]}})

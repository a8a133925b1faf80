"""Variants settled one after another are as each would settle alone; a frozen twin keeps its speeds."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "engine"))  # for the small box
from small_box import small_box

from thermsim.case import load_case
from thermsim.model.build import build
from thermsim.model.system import Model
from thermsim.solve.steady import solve_steady
from thermsim.studies.frozen import frozen, is_governed
from thermsim.studies.settled import Settler

BASE = small_box().with_changes({"governor.g.set_point": "50 degC"})
VARIANTS = [
    BASE,
    BASE.with_changes({"airway.main.inlet": "10 degC"}),
    BASE.with_changes({"part.chip.watts": "1 W"}),  # the fan goes to its least speed
    BASE.with_changes({"sheet.board.conductivity": "40 W/mK"}),  # another sheet of the same shape
    BASE.with_changes({"run.cell": "8 mm"}),  # another grid: built anew
    BASE.with_changes({"part.chip.watts": "9 W"}),  # and to its greatest
    BASE,
]


def test_one_after_another_or_alone():
    settler = Settler()
    for case in VARIANTS:
        found, alone = settler.settle(case), solve_steady(build(case), 300.0)
        np.testing.assert_allclose(found.steady.temperature, alone.temperature, atol=1e-4)
        assert found.speeds == pytest.approx(alone.speeds, abs=1e-5)
    assert settler.built == 3  # the box, the one with the other grid, the box again
    assert settler.factorisations < len(VARIANTS)


def test_frozen_where_it_settles_is_the_same_state():
    settler = Settler()
    live = settler.settle(BASE)
    held = frozen(BASE, live.speeds)
    assert is_governed(BASE)
    assert not is_governed(held)
    assert settler.settle(held).parts["chip"] == pytest.approx(live.parts["chip"], abs=1e-3)
    # and elsewhere it is not: what the governor hid comes to light
    cold = {"airway.main.inlet": "10 degC"}
    assert settler.settle(BASE.with_changes(cold)).parts["chip"] == pytest.approx(50.0, abs=1e-3)
    assert settler.settle(held.with_changes(cold)).parts["chip"] < 41.0


def test_what_is_told():
    warm = BASE.with_changes({
        "part.chip.limit": "55 degC", "room.humidity": "50 %",
        "fan.f.noise": "30 dB(A)", "room.noise_floor": "10 dB(A)",
    })  # fmt: skip
    found = Settler().settle(warm)
    facts = found.facts()
    assert facts["worst_part"] == "chip"
    assert facts["worst_margin_k"] == pytest.approx(5.0, abs=1e-3)
    # dew point of 20 °C and 50 %: 9.27 °C (ASHRAE Fundamentals, psychrometrics); nothing is colder than the room
    assert facts["dew_margin_k"] == pytest.approx(20 - 9.27, abs=0.02)
    # 30 dB(A) at full speed by 50 lg of the speed, ASHRAE Handbook: HVAC Applications
    assert facts["sources_dba"] == pytest.approx(30 + 50 * np.log10(facts["speeds"]["fan.f"]))
    assert Settler().settle(BASE).facts()["with_room_dba"] is None


def test_a_state_far_from_the_last_takes_few_corrections(monkeypatch):
    # a loop whose heat has but a weak way out answers slowly, and must not be crept up on
    organ = load_case(Path(__file__).parents[2] / "cases" / "organ", "liquid", {"run.cell": "10 mm"})
    still = organ.with_changes({"fan.radiator.speed": "0 %"})
    settler = Settler()
    settler.settle(organ)
    taken = []
    laid = Model.matrix
    monkeypatch.setattr(Model, "matrix", lambda self, strengths: taken.append(1) or laid(self, strengths))
    settler.settle(still)
    settler.settle(still.with_changes({"part.processor.watts.play": "20 W"}))
    assert len(taken) < 60

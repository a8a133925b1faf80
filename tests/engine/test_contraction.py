"""How fast corrections close in is told before they are made, also where the slow mode does not show at first."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "tool")]
from plain_cases import case_of, film, loop_tables
from small_box import small_box

from thermsim.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import rebuild
from thermsim.solve.adjoint import Linearised
from thermsim.solve.reduced.contraction import slowest, tangent
from thermsim.solve.reduced.steadies import Steadies
from thermsim.studies.settled import Settler


def slower_coolant(speed: str) -> tuple[Steadies, Case, Floats, list[Floats]]:
    """Fields about a box with its coolant at full flow, the same with less, where that settles, and the plain
    corrections on the way there: at last of the slowest mode alone.
    """
    swift = case_of(**loop_tables() | {"film": {"f": film(on="plate.c")}})
    slow = swift.with_changes({"pump.p.speed": speed})
    settled, settler = Settler().settle(swift), Settler()
    linear = Linearised(settled.model, settled.steady)
    steadies = Steadies(linear, [], 0.02)
    for watts, room in (("2 W", "22 degC"), ("4 W", "22 degC"), ("3 W", "25 degC")):
        example = slow.with_changes({"part.p.watts": watts, "room.temperature": room})
        steadies.learn(settler.settle(example).steady.temperature)
    model = rebuild(settled.model, slow)
    inputs = model.program.at(settled.steady.time, {})
    temperature, changes = linear.steady.temperature, []
    for _ in range(8):
        now = model.conditions(temperature, inputs)
        changes.append(linear.solve(model.heat_left(now, model.strengths(now), inputs), np.zeros(0))[0])
        temperature = temperature + changes[-1]
    return steadies, slow, settler.settle(slow).steady.temperature, changes


@pytest.mark.parametrize("speed", ["35 %", "50 %"])
def test_what_corrections_keep_is_told_by_the_fields(speed):
    steadies, slow, reached, changes = slower_coolant(speed)
    model, steady = rebuild(steadies.model, slow), steadies.linear.steady
    image, own = steadies.image.of_links(model), steadies.image
    at, rest = image.basis.coordinates(reached - steady.temperature), np.zeros(own.size)
    case = tangent(image, at, image.matrix(image.balance(at, model.program.at(steady.time, {}))[0]), [])
    reference = tangent(own, rest, own.matrix(own.balance(rest, steady.inputs)[0]), [])
    kept = np.abs(changes[-1]).max() / np.abs(changes[-2]).max()
    assert slowest(reference, case, []) == pytest.approx(kept, abs=0.03)
    assert slowest(reference, reference, []) < 1e-9


@pytest.mark.parametrize(("speed", "is_told"), [("35 %", False), ("60 %", True)])
def test_a_little_of_a_slow_mode_is_within_the_indicator_or_not_told(monkeypatch, speed, is_told):
    # much of what corrections take at once, so that the second one is small, and a little of what they hardly take
    steadies, slow, reached, changes = slower_coolant(speed)
    off = reached + 4e-3 * changes[-1] / np.abs(changes[-1]).max()
    off[steadies.model.numbers("part.p")[0]] += 0.05
    steadies.learn(off)
    start = steadies.basis.coordinates(off - steadies.linear.steady.temperature)
    monkeypatch.setattr(Steadies, "_reduced", lambda self, image: (start, {}))
    told = steadies.settle(slow)
    assert (told is not None) == is_told
    assert told is None or np.abs(told.steady.temperature - reached).max() < told.indicator


def test_a_fan_that_heats_its_sensor_is_left_to_the_full_solver():
    # it blows air of 60 °C over a board that the room cools from below: it may rest at either limit
    tables = small_box().resolved()
    tables["film"]["low"] = {"on": "sheet.board", "face": "bottom", "law": "fixed", "h": "40 W/m2K"}
    backward = Case.from_resolved(tables).with_changes({"airway.main.inlet": "60 degC"})
    forward = Case.from_resolved(tables)
    for case, is_told in ((backward, False), (forward, True)):
        settled = Settler().settle(case)
        told = Steadies(Linearised(settled.model, settled.steady), [], 0.02).settle(case)
        assert (told is not None) == is_told

"""Slopes by adjoint solves: as they can be written down, as small steps give them, and ranked as plain trials rank."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "engine")]
from small_box import small_box
from two_parts import A_DEGC, A_W, AREA, B_DEGC, B_W, H, R, two_parts

from thermsim.case import load_case
from thermsim.studies.settled import Settler
from thermsim.studies.sweep.sampling import uncertain_inputs
from thermsim.studies.sweep.sensitivity import NOISE, Sensitivities, checked, outputs_of, ranked, tornado

CASES = Path(__file__).parents[2] / "cases"
NOISY = {"fan.f.noise": "30 dB(A)", "room.noise_floor": "10 dB(A)"}


def of(case) -> Sensitivities:
    return Sensitivities(Settler().settle(case), uncertain_inputs(case))


def test_two_parts_by_hand():
    found = of(two_parts())
    assert [one.nominal for one in found.outputs][:2] == pytest.approx([A_DEGC, B_DEGC])
    per_unit = {
        row["input"]: {name: row["per_unit"][name] for name in ("part.a", "part.b")} for row in tornado(found)["rows"]
    }
    film = -(A_W + B_W) / (H**2 * AREA)
    assert per_unit["part.a.watts"] == pytest.approx({"part.a": R + 1 / (H * AREA), "part.b": 1 / (H * AREA)}, rel=1e-6)
    assert per_unit["part.b.watts"] == pytest.approx({"part.a": 1 / (H * AREA), "part.b": 1 / (H * AREA)}, rel=1e-6)
    assert per_unit["joint.ab.resistance"] == pytest.approx({"part.a": A_W, "part.b": 0.0}, rel=1e-5, abs=1e-6)
    assert per_unit["film.f.h"] == pytest.approx({"part.a": film, "part.b": film}, rel=1e-5)
    assert per_unit["room.temperature"] == pytest.approx({"part.a": 1.0, "part.b": 1.0}, rel=1e-6)


def governed(**more):
    return small_box().with_changes({"governor.g.set_point": "50 degC", **NOISY, **more})


@pytest.mark.parametrize(
    "case",
    [
        governed(),  # the governor holds its sensor
        governed(**{"part.chip.watts": "1 W"}),  # it stands at its least speed
        load_case(CASES / "digitiser", changes={"run.cell": "12 mm"}),
        load_case(CASES / "organ", changes={"run.cell": "12 mm"}),
        load_case(CASES / "organ", "liquid", {"run.cell": "12 mm"}),
    ],
    ids=["held", "at its limit", "digitiser", "organ", "organ by liquid"],
)
def test_as_small_steps_give(case):
    found = of(case)
    rows = checked(found, [one.name for one in found.inputs])["inputs"]
    assert len(rows) >= (7 if "check" in case.title else 10)
    # central differences of settled states, 1 % up and down: those of outputs that do not move are but rounding
    moving = [row for row in rows if np.abs(found.slopes[row["input"]]).max() > 1e-3]
    assert max(row["largest_relative"] for row in moving) < 1e-3


def test_a_governor_hides_what_a_sink_does_from_its_sensor():
    found = of(load_case(CASES / "digitiser", changes={"run.cell": "12 mm"}))
    names = [one.name for one in found.outputs]
    sink = dict(zip(names, found.slopes["sink"], strict=True))
    assert abs(sink["part.fpga"]) < 1e-6
    assert sink[NOISE] > 0  # a worse sink is louder
    assert sink["part.preamp_right"] < 0  # and blows more air over what nobody watches


def test_ranked_as_plain_trials_rank():
    # every input 10 % up and down by itself, or half its spread where that is a shift, settled anew
    case = load_case(CASES / "digitiser", changes={"run.cell": "12 mm"})
    found, settler = of(case), Settler()
    lead = [one.name for one in found.outputs].index("part.preamp_right")
    tried = {}
    for one in found.inputs:
        by = 0.1 if one.spread.is_factor else 0.5 * (one.spread.high - one.spread.low)
        above, below = (
            outputs_of(settler.settle(case.with_changes(one.changes(one.at_rest + s * by)))) for s in (1, -1)
        )
        per_unit = (above[lead] - below[lead]) / (2 * by)
        tried[one.name] = abs(per_unit) * (one.spread.high - one.spread.low)
    by_trials = sorted(tried, key=lambda name: -tried[name])
    widest = found.effects(found.inputs[0])[lead]
    assert widest.size == 2
    by_slopes = [one.name for one in ranked(found, lead)]
    assert by_slopes[:6] == by_trials[:6]

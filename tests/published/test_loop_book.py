"""A loop's book against sums that anybody can do: heat balance, plug flow, Hagen-Poiseuille, Borda-Carnot."""

import sys
from math import pi
from pathlib import Path

import CoolProp.CoolProp as coolprop
import pytest

sys.path.append(str(Path(__file__).parents[1] / "studies"))
from one_loop import one_loop

from thermsim.studies.loop.study import book
from thermsim.studies.settled import Settler


def told(more="", **changes):
    settler = Settler()
    case = one_loop(more, **changes)
    return book(case, settler.settle(case), "main", settler)


def element(facts, address):
    return next(row for row in facts["elements"] if row["element"] == address)


@pytest.fixture(scope="module")
def watered():
    return told()


def test_a_kilowatt_in_a_litre_a_minute(watered):
    # W/(ρ c Q) with IAPWS water at 25 °C: 1000/(997.05·4181.3/60000) = 14.392 K
    assert watered["mean_degc"] == pytest.approx(25, abs=3)
    row = element(watered, "block.cold")
    assert row["watts"] == pytest.approx(1000.0, rel=1e-6)
    assert row["outlet_degc"] - row["inlet_degc"] == pytest.approx(14.392, rel=2e-3)
    assert row["by_hand"]["rise_k"] == pytest.approx(14.392, rel=5e-3)


def test_what_goes_in_comes_out(watered):
    pump = watered["pump"]
    assert pump["into_coolant_w"] == pytest.approx(2.0, rel=1e-6)
    assert sum(row["watts"] for row in watered["elements"]) + pump["into_coolant_w"] == pytest.approx(0.0, abs=1e-4)
    assert watered["radiators"]["radiator.r"]["watts"] == pytest.approx(1002.0, rel=1e-6)


def test_the_liquid_it_was_worked_out_with(watered):
    # IAPWS-95 through CoolProp, at the mean the book tells
    kelvin, liquid = watered["mean_degc"] + 273.15, watered["liquid"]
    for key, what in (("density_kg_per_m3", "D"), ("cp_j_per_kgk", "C"), ("conductivity_w_per_mk", "L"),
                      ("viscosity_pa_s", "V"), ("prandtl", "Prandtl")):  # fmt: skip
        assert liquid[key] == pytest.approx(coolprop.PropsSI(what, "T", kelvin, "P", 101325, "Water"), rel=3e-3)


def test_plug_flow_delay(watered):
    # 3 m of 6 mm bore at 1 L/min: π/4·0.006²·3/(1e-3/60) = 5.089 s
    assert element(watered, "hose.out")["delay_s"] == pytest.approx(5.089, abs=5e-4)
    volume = 4 * pi / 4 * 0.006**2 + 170e-6
    assert watered["fill"]["volume_ml"] == pytest.approx(1e6 * volume)
    assert watered["fill"]["turn_over_s"] == pytest.approx(volume * 60e3)


def test_hagen_poiseuille():
    # 128 µ L Q/(π D⁴), slow enough to be laminar; water at the loop's mean
    facts = told(
        loop__main__flow="0.3 L/min", part__chip__watts="50 W", hose__out__bore="5 mm", hose__back__bore="5 mm"
    )
    row = element(facts, "hose.out")
    assert row["regime"] == "laminar"
    viscosity = 997.05 * (0.3e-3 / 60) / (pi / 4 * 5e-3**2) * 5e-3 / row["reynolds"]
    by_hand = 128 * viscosity * 3.0 * (0.3e-3 / 60) / (pi * 5e-3**4)
    assert row["friction_pa"] == pytest.approx(by_hand, rel=3e-3)
    assert row["fittings_pa"] == row["bore_steps_pa"] == 0.0


@pytest.mark.parametrize(
    ("path", "coefficient"),
    [
        (["hose.wide", "hose.out", "block.cold"], 0.315),  # 10 to 5 mm: White, 0.42 (1 - 0.25)
        (["hose.out", "hose.wide", "block.cold"], 0.5625),  # 5 to 10 mm: Borda-Carnot, (1 - 0.25)²
        (["hose.wide", "hose.out", "hose.wider", "block.cold"], 0.315 + 0.5625),
        (["hose.wide", "block.cold", "hose.out", "hose.back"], (1 - 25 / 36) ** 2),  # 5 to 6 mm
    ],
)
def test_bores_that_change_lose_at_their_joint(path, coefficient):
    wide = '[hose.wide]\nlength = "1 m"\nbore = "10 mm"\n'
    facts = told(
        wide + wide.replace("wide", "wider"), hose__out__bore="5 mm", loop__main__path=[*path, "radiator.r"],
    )  # fmt: skip
    head = 0.5 * 997.5 * ((1e-3 / 60) / (pi / 4 * 5e-3**2)) ** 2  # in 5 mm
    lost = {row["element"]: row["bore_steps_pa"] for row in facts["elements"]}
    assert lost.pop("hose.out") == pytest.approx(coefficient * head, rel=2e-3)
    assert not any(lost.values())


def test_where_pump_and_loop_meet():
    # falling line 40 - 40/3·Q against measured drops that go with Q² alone: 3 kPa·Q² (L/min): Q = 2.0457 L/min
    facts = told(
        loop__main__flow=None, hose__out__bore="25 mm", hose__back__bore="25 mm", radiator__r__drop_exponent=2.0,
        part__chip__watts="100 W",
    )  # fmt: skip
    pump = facts["pump"]
    by_hand = (-40 / 3 + ((40 / 3) ** 2 + 4 * 3 * 40) ** 0.5) / 6
    assert pump["flow_l_per_min"] == pytest.approx(by_hand, rel=3e-3)
    assert pump["pressure_pa"] == pytest.approx(3e3 * by_hand**2, rel=3e-3)
    assert pump["hydraulic_w"] == pytest.approx(pump["pressure_pa"] * pump["flow_l_per_min"] / 6e4)
    # the same with 3.3 and 2.7 kPa
    for told_at in pump["at_resistance"]:
        k = 3 * told_at["factor"]
        assert told_at["flow_l_per_min"] == pytest.approx(
            (-40 / 3 + ((40 / 3) ** 2 + 160 * k) ** 0.5) / (2 * k), rel=3e-3
        )


def test_expansion_and_cushion():
    # water 20 to 60 °C: 998.207/983.196 - 1 = 1.527 % (IAPWS-95); of 283.1 mL 4.32 mL
    facts = told(
        loop__main__fill_temperature="20 degC", loop__main__hottest="60 degC", loop__main__rating="1 bar",
        loop__main__vented=False, reservoir__tank__gas="20 mL",
    )  # fmt: skip
    cushion = facts["fill"]["cushion"]
    assert cushion["growth_share"] == pytest.approx(0.01527, rel=5e-3)
    assert cushion["growth_ml"] == pytest.approx(4.32, abs=0.03)
    # by hand: dry air (101.325 - 2.339) kPa, warmer by 333.15/293.15, in 15.68 of 20 mL; vapour 19.95 kPa
    hot = (101.325 - 2.339) * 333.15 / 293.15 * 20 / (20 - 4.32) + 19.95 - 101.325
    assert cushion["hot_pa"] == pytest.approx(hot * 1e3, rel=0.01)
    assert cushion["with_pump_pa"] == pytest.approx((hot + 40) * 1e3, rel=0.01)


def test_how_long_the_level_lasts():
    # 0.1 g/(m·day) through 4 m: 0.4 g a day; 60 mL of water at 15 °C, 59.95 g: 149.9 days
    facts = told(
        hose__out__permeation="0.1 g/md", hose__back__permeation="0.1 g/(m d)", reservoir__tank__reserve="60 mL"
    )
    level = facts["fill"]["level"]
    assert level["g_per_day"] == pytest.approx(0.4)
    assert level["days"] == pytest.approx(149.9, abs=0.1)

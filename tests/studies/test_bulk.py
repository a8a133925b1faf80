"""Height of the tallest stack and mass that an option adds, by hand."""

import math

import pytest

from thermsim.case import Case
from thermsim.studies.bulk import added_mass, stack_height
from thermsim.studies.run import run

BOX = """
[case]
title = "a plate on a chip"
[room]
temperature = "20 degC"
[run]
duration = "10 s"
frames = 2
cell = "20 mm"
[sheet.board]
corner = "0, 0 mm"
size = "100 x 60 mm"
thickness = "1.6 mm"
conductivity = "20 W/mK"
heat_capacity = "20 J/K"
[film.board]
on = "sheet.board"
law = "fixed"
h = "10 W/m2K"
[part.chip]
on = "sheet.board"
centre = "50, 30 mm"
size = "20 x 20 mm"
watts = "3 W"
to_board = "1 K/W"
heat_capacity = "5 J/K"
height = "3 mm"
[part.tall]
on = "sheet.board"
centre = "80, 30 mm"
size = "10 x 10 mm"
watts = "1 W"
to_board = "1 K/W"
heat_capacity = "5 J/K"
height = "12 mm"
[must_have.flat]
of = "height"
at_most = "14 mm"
[must_have.light]
of = "mass"
at_most = "150 g"
[option.liquid.add.plate.cold]
corner = "20, 10 mm"
size = "60 x 40 mm"
thickness = "10 mm"
material = "copper"
[option.liquid.add.plate.cold.channel]
path = ["20, 30 mm", "80, 30 mm"]
width = "4 mm"
depth = "5 mm"
[option.liquid.add.joint.pad]
between = ["part.chip", "plate.cold"]
bond_line = "0.5 mm"
conductivity = "3 W/mK"
[option.liquid.add.pump.p]
curve = ["0 L/min, 20 kPa", "2 L/min, 0 kPa"]
mass = "200 g"
[option.liquid.add.hose.h]
length = "1 m"
bore = "6 mm"
mass = "50 g"
[option.liquid.add.airway.a]
flow = "10 m3/h"
[option.liquid.add.radiator.r]
airway = "airway.a"
conductance = "5 W/K"
at_flow = "10 m3/h"
exponent = 0.5
volume = "50 mL"
drop = "2 kPa"
drop_at = "1 L/min"
mass = "300 g"
[option.liquid.add.loop.m]
pump = "pump.p"
coolant = "water"
path = ["plate.cold", "hose.h", "radiator.r"]
"""
CASE = Case.from_text(BOX)


def test_height_of_a_stack():
    assert stack_height(CASE.spec).value == pytest.approx(0.012)
    # 3 mm of chip, 0.5 mm of pad and 10 mm of plate
    assert stack_height(CASE.with_option("liquid").spec).value == pytest.approx(0.0135)


def test_mass_of_what_is_added():
    assert added_mass(CASE).value == 0.0
    # copper 8933 kg/m³ (Incropera, table A.1); water 998.2 kg/m³ at 20 °C (IAPWS)
    groove = 0.06 * 0.004 * 0.005
    plate = 8933 * (0.06 * 0.04 * 0.01 - groove)
    water = 998.2 * (groove + math.pi / 4 * 0.006**2 * 1.0 + 50e-6)
    assert added_mass(CASE.with_option("liquid")).value == pytest.approx(plate + water + 0.55, rel=5e-3)


def test_what_is_missing_is_named_and_nothing_passes_for_it(tmp_path):
    text = BOX.replace('height = "12 mm"\n', "").replace('mass = "200 g"\n', "")
    case = Case.from_text(text, option="liquid")
    assert stack_height(case.spec).missing == ("part.tall.height",)
    assert added_mass(case).missing == ("pump.p.mass",)
    musts = {must["name"]: must for must in run(case, tmp_path).summary["must_haves"]}
    assert musts["flat"]["met"] is None
    assert musts["flat"]["why"] == "missing: part.tall.height"
    assert musts["light"]["met"] is None


def test_they_are_judged(tmp_path):
    musts = {must["name"]: must for must in run(CASE.with_option("liquid"), tmp_path).summary["must_haves"]}
    assert musts["flat"]["met"] is True
    assert (musts["flat"]["value"], musts["flat"]["at_most"]) == pytest.approx((13.5, 14))
    assert musts["light"]["met"] is False
    assert musts["light"]["unit"] == "g"


@pytest.mark.parametrize(("duration", "met"), [("20 s", False), ("5 s", None)])
def test_a_warm_up_that_the_run_does_not_reach_fails_only_where_it_had_the_time(tmp_path, duration, met):
    more = '[must_have.soon]\nof = "warm-up"\nat_most = "10 s"\n'
    case = Case.from_text(more + BOX).with_changes({"run.duration": duration})
    musts = {must["name"]: must for must in run(case, tmp_path).summary["must_haves"]}
    assert musts["soon"]["met"] is met


def test_a_probe_may_have_to_stay_cool(tmp_path):
    more = '[probe.rim]\non = "sheet.board"\nat = "5, 5 mm"\n[must_have.rim]\nof = "probe.rim"\nat_most = "10 degC"\n'
    musts = {must["name"]: must for must in run(Case.from_text(more + BOX), tmp_path).summary["must_haves"]}
    assert musts["rim"]["met"] is False

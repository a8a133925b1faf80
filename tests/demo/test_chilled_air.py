"""What chilled air alone would do for the two invented demo boxes: regression checks, not checks of physics.

The bands are those of an independent 5 mm grid and hand sums: temperatures ±4 K, levels ±1.5 dB, inlets as they follow.
"""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from thermsim.case import load_case
from thermsim.studies.chill.study import chill

CASES = Path(__file__).parents[2] / "cases"


@cache
def facts(name: str) -> dict:
    with TemporaryDirectory() as folder:
        return chill(load_case(CASES / name, changes={"run.cell": "8 mm"}), folder)


def at(told: dict, course: str, key: str, inlet: float, part: str | None = None) -> float:
    values = told[course][key] if part is None else told[course][key][part]
    return float(np.interp(inlet, told["inlets_degc"], values))


def test_the_digitiser_s_governor_turns_cold_into_quiet():
    told = facts("digitiser")
    # held at 60 °C; 17 °C of inlet is worth 5.9 dB and leaves the preamplifiers nearly where they are
    assert at(told, "live", "parts_degc", 17, "fpga") == pytest.approx(60, abs=0.01)
    assert at(told, "live", "sources_dba", 17) == pytest.approx(19.9, abs=1.5)
    assert at(told, "live", "parts_degc", 17, "preamp_right") > 50
    # with the speed frozen the same air takes about 5 K off the processor
    assert 60 - at(told, "frozen", "parts_degc", 17, "fpga") == pytest.approx(5, abs=1)
    assert at(told, "frozen", "with_room_dba", 17) == pytest.approx(25.3, abs=1)


def test_cold_air_that_stays_dry_does_not_do_what_the_hybrid_does():
    told = facts("digitiser")
    # 22 °C and 45 %: dew point 9.5 °C by ASHRAE's psychrometrics
    assert told["dew_point_degc"] == pytest.approx(9.5, abs=0.05)
    assert told["lowest_dry_inlet_degc"]["2"] == pytest.approx(11.5, abs=0.05)
    assert told["verdict"]["helps"] == "yes"
    hybrid = next(one for one in told["equivalents"] if one["option"] == "hybrid")
    assert hybrid["frozen"]["all_parts_degc"] is None
    assert hybrid["frozen"]["parts"]["fpga"] is None  # it would take some -7 °C
    assert 5 < hybrid["frozen"]["worst_margin_degc"] < 17
    # neither frozen (loud) nor live (preamplifiers hot) meets all must-haves
    assert "but the noise stays at" in told["answer"][0]
    assert told["coldest_dry"]["live"]["worst_margin_k"] < 0
    assert [one["option"] for one in told["equivalents"]] == ["liquid, fans off", "hybrid"]


def test_the_organ_is_loud_not_hot():
    told = facts("organ")
    assert told["verdict"]["helps"] == "no"
    assert told["verdict"]["reason"] == "noise stays"
    assert told["governed"] is False
    # 23 °C and 50 %: dew point 12.0 °C
    assert told["lowest_dry_inlet_degc"]["3"] == pytest.approx(15.0, abs=0.1)
    assert 10 < told["trial"]["minutes"] <= 90
    assert len(told["answer"]) <= 5

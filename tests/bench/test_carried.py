"""Heat by stream, supply power and dew of a run, against sums on paper."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from thermsim.bench.logs.log import Log
from thermsim.bench.paired.carried import carried, dew, noise, power
from thermsim.bench.paired.record import Record, record_of
from thermsim.case import Case

sys.path.append(str(Path(__file__).parents[1] / "studies"))
from one_loop import TEXT

LOOP = Case.from_text(TEXT)
TIME = np.arange(0.0, 1801.0, 30.0)


def record(**readings: float) -> Record:
    """Half an hour of steady readings."""
    given = {name.replace("__", "."): TIME * 0 + value for name, value in readings.items()}
    return record_of("run", "after", None, Log("run", Path("run.csv"), TIME, given, {}, None), 600.0)


def water() -> Case:
    """The loop with water in it, and its first element in line."""
    name = next(iter(LOOP.spec.loop))
    return LOOP.with_changes({f"loop.{name}.coolant": "water", f"loop.{name}.fraction": "0 %"})


def test_heat_that_water_carries() -> None:
    """IAPWS-95: 1 kW in 1.000 L/min of water at 25 °C warms it by 14.392 K."""
    case = water()
    name, loop = next(iter(case.spec.loop.items()))
    element = next(one for one in loop.path if isinstance(one, str) and not one.startswith("hose"))
    half = 14.392 / 2
    ends = {f"{element.replace('.', '__')}__inlet": 25 - half, f"{element.replace('.', '__')}__outlet": 25 + half}
    told = carried(case, record(room=22.0, **{f"loop__{name}__flow": 1e-3 / 60}, **ends), case.spec.bench)
    assert [one["stream"] for one in told] == [element]
    assert told[0]["watts"] == pytest.approx(1000.0, rel=2e-3)
    # 5 % of the flow and two probes of 0.3 K: √(50² + (69.5 · 0.42)²) W
    assert told[0]["u_w"] == pytest.approx(np.hypot(50.0, 1000.0 / 14.392 * 0.3 * np.sqrt(2)), rel=0.01)


def test_heat_that_air_carries() -> None:
    """Ideal gas: 100 W into 10 m³/h of air that enters at 25 °C warm it by 30.2 K."""
    name = next(iter(LOOP.spec.airway))
    readings = {f"airway__{name}__flow": 10 / 3600, f"airway__{name}__inlet": 25.0, f"airway__{name}__outlet": 55.207}
    told = carried(LOOP, record(room=22.0, **readings), LOOP.spec.bench)
    assert told[0]["watts"] == pytest.approx(100.0, rel=2e-3)


def test_supply_power_beside_the_case() -> None:
    """Within 5 % of parts, fans and pumps it agrees; volts times amps where no watts were logged."""
    watts = power(LOOP, record(room=22.0, supply__watts=1.0))
    assert watts is not None
    stated = watts["case_w"]
    spec = LOOP.spec
    assert stated >= sum(part.watts for part in spec.part.values() if not isinstance(part.watts, dict))
    good, bad = (
        power(LOOP, record(room=22.0, supply__volts=10.0, supply__amps=by * stated / 10)) for by in (1.04, 1.06)
    )
    assert good is not None
    assert bad is not None
    assert (good["agrees"], bad["agrees"]) == (True, False)
    assert power(LOOP, record(room=22.0, noise=30.0)) is None


def test_a_slow_fan_takes_little() -> None:
    """Fan laws: power goes with speed³, so at half speed two rows of two fans of 2 W take 1 W, not 8."""
    fan = {"curve": ["0 m3/h, 30 Pa", "20 m3/h, 0 Pa"], "heat": "2 W", "count": 2, "in_series": 2}
    case = Case.from_dict({
        "case": {"title": "a fan"}, "room": {"temperature": "22 degC"},
        "part": {"a": {"watts": "9 W", "heat_capacity": "9 J/K", "size": "50 x 50 mm"}},
        "film": {"f": {"on": "part.a", "law": "fixed", "h": "9 W/m2K"}},
        "fan": {"f": fan}, "airway": {"w": {"fans": ["fan.f"], "resistance": "0.1 Pa/(m3/h)2"}},
    })  # fmt: skip
    full, half = (power(case, record(supply__watts=10.0, **more)) for more in ({}, {"fan__f": 0.5}))
    assert full is not None
    assert half is not None
    assert (full["case_w"], half["case_w"]) == (pytest.approx(17.0), pytest.approx(10.0))


def test_dew_point_of_the_room() -> None:
    """ASHRAE Handbook: Fundamentals (2017), chapter 1: 25 °C and 50 % have their dew point at 13.86 °C."""
    told = dew(LOOP, record(room=25.0, humidity=0.5, part__chip=40.0, hose__out__inlet=15.0))
    assert told is not None
    assert told["dew_point_degc"] == pytest.approx(13.864, abs=0.01)
    assert told["coldest"] == "hose.out.inlet"
    assert told["margin_k"] == pytest.approx(1.136, abs=0.01)
    assert told["dry"] is False


def test_background_near_the_noise() -> None:
    """ISO 3744: under 6 dB over the background a level is an upper bound."""
    near, far = (noise([record(room=22.0, noise=30.0 + over, noise__background=30.0)]) for over in (4.0, 12.0))
    assert near is not None
    assert far is not None
    assert (near["upper_bound"], far["upper_bound"]) == (True, False)

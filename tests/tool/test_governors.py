"""Governed histories against a second integration: SciPy's BDF on the same heat balance, laws written anew."""

import numpy as np
import pytest
from plain_cases import FAN, STREAM, case_of, film, part, sheet
from scipy.integrate import solve_ivp

from thermsim.model.build import build
from thermsim.model.system import Model
from thermsim.solve.steady import SteadySolver, solve_steady
from thermsim.solve.transient import Transient

END = 600.0
TIMES = np.linspace(5, END, 120)
LOW, HIGH, LAG = 0.1, 0.8, 20.0


def governed(law: dict, **more) -> Model:
    tables = {
        "sheet": {"b": sheet()}, "part": {"p": part(watts="2 W")}, "fan": {"f": FAN},
        "airway": {"a": STREAM | {"segments": 4, "draught": "0.3 m3/h"}},
        "film": {"t": film(
            to="airway.a", law="scaled", h="25 W/m2K", at_flow="10 m3/h", exponent=0.6, still="4 W/m2K",
        )},
        "governor": {"g": {
            "sensor": "part.p", "drives": ["fan.f"], "min_speed": LOW, "max_speed": HIGH, "lag": f"{LAG} s",
        } | law},
        "run": {"duration": f"{END} s", "cell": "20 mm"},
    }  # fmt: skip
    return build(case_of(**tables | more))


def second(model: Model, demand, rate=lambda reading, integral: 0.0, most: float = np.inf) -> np.ndarray:
    """Part's temperature by BDF; state: all temperatures, speed, integral."""
    n, p = model.node_count, int(model.numbers("part.p")[0])

    def slope(t, y):
        inputs = model.program.at(t, {"fan.f": y[n]})
        matrix = model.matrix(model.strengths(model.conditions(y[:n], inputs)))
        wanted = np.clip(demand(y[p], y[n + 1]), LOW, HIGH)
        speed = np.clip((wanted - y[n]) / LAG, -most, most)
        return np.r_[model.imbalance(matrix, y[:n], inputs) / model.capacity, speed, rate(y[p], y[n + 1])]

    start = np.r_[model.start(), LOW, LOW]
    found = solve_ivp(slope, (0, END), start, method="BDF", t_eval=TIMES, rtol=1e-7, atol=1e-7, max_step=5.0)
    return found.y[p]


def ours(model: Model) -> np.ndarray:
    p, found = model.numbers("part.p"), []
    for step in Transient.of(model).steps(END):
        while len(found) < TIMES.size and TIMES[len(found)] <= step.last.time + 1e-9:
            found.append(step.at(TIMES[len(found)], p)[0])
    return np.array(found)


def test_hold_with_its_limits_and_ramp():
    model = governed({"law": "hold", "set_point": "58 degC", "gain": "12 %/K", "reset": "60 s", "ramp": "1 %/s"})

    def rate(reading, integral):
        wish = 0.12 * (reading - 58) / 60
        return 0.0 if (integral >= HIGH and wish > 0) or (integral <= LOW and wish < 0) else wish

    found = second(model, lambda reading, integral: integral + 0.12 * (reading - 58), rate, most=0.01)
    assert ours(model) == pytest.approx(found, abs=0.05)
    # it overshoots and swings back, so limits, ramp, lag and integral are all at work
    assert found.max() > 60
    assert found[-1] < 58


def test_curve():
    model = governed({"law": "curve", "curve": ["30 degC, 10 %", "55 degC, 90 %"]})
    found = second(model, lambda reading, _: np.interp(reading, [30, 55], [0.1, 0.9]))
    assert ours(model) == pytest.approx(found, abs=0.05)


def test_of_two_switches_the_first_to_be_passed_is_thrown_first():
    second_board = {"sheet": {"b": sheet(), "d": sheet(corner="0, 100 mm")}}
    switch = {"law": "switch", "off_below": "25 degC", "min_speed": "10 %"}
    tables = second_board | {
        "part": {"p": part(watts="6 W"), "q": part(on="sheet.d", centre="50, 130 mm", watts="6 W")},
        "film": {"t": film(), "u": film(on="sheet.d")},
        "fan": {"f": FAN, "g": FAN},
        "airway": {"a": STREAM, "c": STREAM | {"fans": ["fan.g"]}},
        "governor": {
            "late": switch | {"sensor": "part.p", "drives": ["fan.f"], "on_above": "40.01 degC"},
            "early": switch | {"sensor": "part.q", "drives": ["fan.g"], "on_above": "40 degC"},
        },
    }
    model = build(case_of(**tables))
    thrown = {}
    for step in Transient.of(model).steps(60):
        for name, state in zip(("late", "early"), step.last.governors, strict=True):
            if state.on and name not in thrown:
                thrown[name] = step.last.x[model.numbers({"late": "part.p", "early": "part.q"}[name])[0]]
    assert thrown["early"] == pytest.approx(40, abs=1e-3)
    assert thrown["late"] == pytest.approx(40.01, abs=1e-3)


@pytest.mark.parametrize("set_point", ["30 degC", "50 degC", "90 degC"])  # at full speed, between, at rest
def test_joint_steps_and_a_bracketing_search_find_the_same_rest(small, set_point, monkeypatch):
    case = small.with_changes({"governor.chip.set_point": set_point})
    joint = solve_steady(build(case))
    monkeypatch.setattr(SteadySolver, "_jointly", lambda self, *args: False)
    searched = solve_steady(build(case))
    assert joint.speeds["fan.one"] == pytest.approx(searched.speeds["fan.one"], abs=1e-6)
    assert joint.temperature == pytest.approx(searched.temperature, abs=1e-4)

"""Air: fans against resistance, warming, sinks, radiation, noise."""

import numpy as np
import pytest
from published_cases import film, history, leaving, model_of, node, sheet
from scipy.optimize import brentq

from thermsim.physics.air import dry_air
from thermsim.physics.fins import plate_fin_film
from thermsim.solve.noise import noise_levels
from thermsim.solve.steady import solve_steady


def duct(**more) -> dict:
    """An airway over a sheet of 100 x 50 mm."""
    return {"main": {"corner": "0, 0 mm", "size": "100 x 50 mm", "height": "20 mm", **more}}


def heated_sheet(watts: float, **more) -> dict:
    return {
        "sheet": {"s": sheet(0.1, 0.05, 0.0016, 20)},
        "source": {"heater": {"on": "sheet.s", "watts": f"{watts} W"}},
        "film": {"top": film(50, to="airway.main")},
    } | more


def parabola(top: float, a: float, unit: str) -> list[str]:
    return [f"{v} {unit}, {top - a * v * v} Pa" for v in np.linspace(0, 49, 50)]


def test_fan_meets_its_system():
    # p = 60 − 0.024 V² meets 0.05 V² at V = √(60/0.074) = 28.4747 m³/h and 40.5405 Pa; both at 1.2 kg/m³
    model = model_of(
        room=20,
        **heated_sheet(0, fan={"f": {"curve": parabola(60, 0.024, "m3/h")}}),
        airway=duct(fans=["fan.f"], resistance="0.05 Pa/(m3/h)2"),
    )
    point = solve_steady(model).conditions.air["main"]
    assert 3600 * point.flow == pytest.approx(28.4747, rel=1e-3)
    assert point.pressure * 1.2 / point.state.density == pytest.approx(40.5405, rel=1e-3)


def test_fan_laws_hold_in_a_case():
    # flow moves as speed, pressure as speed²: ASHRAE Handbook, HVAC Systems and Equipment
    def at_speed(speed):
        model = model_of(
            room=20,
            **heated_sheet(0, fan={"f": {"curve": parabola(60, 0.024, "m3/h"), "speed": speed}}),
            airway=duct(fans=["fan.f"], resistance="0.05 Pa/(m3/h)2"),
        )
        return solve_steady(model).conditions.air["main"]

    full, fast = at_speed(1.0), at_speed(1.2)
    assert fast.flow / full.flow == pytest.approx(1.2, rel=1e-6)
    assert fast.pressure / full.pressure == pytest.approx(1.44, rel=1e-6)


def test_rise_of_air():
    # 100 W into 10 m³/h of air that enters at 25 °C (1.1843 kg/m³, 1006.3 J/kgK): 30.207 K
    model = model_of(room=25, cell=0.01, **heated_sheet(100), airway=duct(flow="10 m3/h"))
    steady = solve_steady(model)
    assert steady.temperature[model.site.streams["main"].outlet] - 25 == pytest.approx(30.207, rel=1e-3)
    assert leaving(model, steady) == pytest.approx({"airway.main": 100}, rel=1e-6)


@pytest.mark.parametrize(("degc", "constant"), [(20, 1.748), (25, 1.778), (35, 1.837)])
def test_cfm_rule(degc, constant):
    # cfm = constant × W/K: the customary 1.76 holds near 20 °C only (density and cp of dry air, one
    # atmosphere)
    model = model_of(room=degc, cell=0.01, **heated_sheet(1), airway=duct(flow="1 cfm"))
    rise = solve_steady(model).temperature[model.site.streams["main"].outlet] - degc
    assert rise == pytest.approx(constant, rel=1e-3)


def test_hot_pipe_loses_heat_by_convection_and_radiation():
    # Incropera & DeWitt, 6th ed., example 1.2: 200 °C in 25 °C, h 15, ε 0.8, 70 mm: 998 W/m (997.9 with full
    # σ)
    area = np.pi * 0.07
    model = model_of(
        cell=0.1, room=25, sheet={"s": sheet(1, area, 0.001, 1e9)},
        film={"all": film(15, emissivity=0.8)},
        edge={"held": {"on": "sheet.s", "side": "left", "temperature": "200 degC"}},
    )  # fmt: skip
    assert leaving(model, solve_steady(model))["film.all"] == pytest.approx(997.9, rel=1e-3)


@pytest.mark.parametrize(
    ("emissivity", "hot", "cold", "coefficient"), [(1, 26.85, 26.85, 6.1240), (0.9, 60, 25, 6.4397)]
)
def test_radiation_coefficient_in_a_case(emissivity, hot, cold, coefficient):
    # εσ(T1 + T2)(T1² + T2²), Incropera & DeWitt equation 1.9
    model = model_of(
        cell=1, room=cold, start=hot, sheet={"s": sheet(1, 1, 0.001, 100, 1e6)},
        film={"top": film(0, emissivity=emissivity)},
    )  # fmt: skip
    now = model.conditions(model.start(), model.program.at(0.0, {}))
    (group,) = (k for k, g in enumerate(model.groups) if g.kind == "radiation")
    assert model.strengths(now)[group] == pytest.approx(coefficient, rel=1e-4)


def test_radiation_between_two_facing_sheets():
    # σ(T1⁴ − T2⁴)/(1/ε1 + 1/ε2 − 1), Incropera & DeWitt table 13.3: 80 and 20 °C, 0.8 and 0.6: 241.66 W/m²
    model = model_of(
        cell=1,
        sheet={name: sheet(1, 1, 0.001, 1e6) for name in ("hot", "cold")},
        radiation={"gap": {"between": ["sheet.hot", "sheet.cold"], "emissivity": [0.8, 0.6]}},
        film={
            "hot": film(1e9, "sheet.hot", air="80 degC"), "cold": film(1e9, "sheet.cold", air="20 degC"),
        },
    )  # fmt: skip
    expected = 5.670374419e-8 * (353.15**4 - 293.15**4) / (1 / 0.8 + 1 / 0.6 - 1)
    assert leaving(model, solve_steady(model))["film.cold"] == pytest.approx(expected, rel=1e-6)


def test_finned_sink_in_an_airway():
    # 15 fins of 25 x 1 mm on 60 x 60 mm, k 200, at h 40: η 0.924234, base to air 0.564455 K/W (Incropera &
    # DeWitt section 3.6.4). The flow is the one at which the gaps' film is 40 W/m²K.
    gap = (0.06 - 15 * 0.001) / 14
    state = dry_air(20.0)
    speed = brentq(lambda v: plate_fin_film(v, gap, 0.025, 0.06, state).value - 40, 0.1, 20)
    model = model_of(
        room=20,
        part={"chip": {"watts": "10 W", "heat_capacity": "10 J/K", "size": "60 x 60 mm"}},
        joint={"glue": {"between": ["part.chip", "sink.fins"], "resistance": "0.1 K/W"}},
        sink={"fins": {
            "on": "part.chip", "airway": "main", "base": "60 x 60 mm", "fins": 15, "fin_height": "25 mm",
            "fin_thickness": "1 mm", "conductivity": "200 W/mK",
        }},
        airway={"main": {"flow": f"{speed * 14 * gap * 0.025} m3/s"}},
    )  # fmt: skip
    steady = solve_steady(model)
    sink, air = (
        steady.temperature[node(model, "sink.fins")],
        steady.temperature[model.site.streams["main"].outlet],
    )
    assert (sink - air) / 10 == pytest.approx(0.564455, rel=1e-4)
    assert steady.temperature[node(model, "part.chip")] - sink == pytest.approx(1.0, rel=1e-6)


LEVELS = [  # sums of levels and 50 lg of the speed, ISO 3744 and ASHRAE Handbook, HVAC Applications
    ([60, 60], 1.0, 63.0103), ([60, 57], 1.0, 61.7643), ([60, 50], 1.0, 60.4139), ([48] * 5, 1.0, 54.9897),
    ([40], 1.2, 43.959), ([40], 0.5, 40 - 15.051),
]  # fmt: skip


@pytest.mark.parametrize(("levels", "speed", "total"), LEVELS)
def test_noise_of_fans_together(levels, speed, total):
    fans = {
        f"f{n}": {"curve": ["0 m3/h, 30 Pa", "10 m3/h, 0 Pa"], "noise": f"{level} dB(A)", "speed": speed}
        for n, level in enumerate(levels)
    }
    model = model_of(
        **heated_sheet(0, fan=fans),
        airway=duct(fans=[f"fan.{name}" for name in fans], resistance="0.1 Pa/(m3/h)2"),
    )
    speeds = dict(model.program.at(0.0, {}).controls.speeds)
    assert noise_levels(model, speeds)[0] == pytest.approx(total, abs=1e-3)


def test_five_alike_fans_in_one_table():
    fan = {"curve": ["0 m3/h, 30 Pa", "10 m3/h, 0 Pa"], "noise": "48 dB(A)", "count": 5}
    room = {"temperature": "20 degC", "noise_floor": "50 dB(A)"}
    model = model_of(
        **heated_sheet(0, fan={"f": fan}), room=room, airway=duct(fans=["fan.f"], resistance="0.1 Pa/(m3/h)2")
    )
    alone, with_room = noise_levels(model, {"fan.f": 1.0})
    assert alone == pytest.approx(54.9897, abs=1e-3)
    assert with_room == pytest.approx(10 * np.log10(5 * 10**4.8 + 10**5), abs=1e-3)


def test_sealed_box_rule():
    # common practice for painted steel: 5.5 W/m²K through two films of 10 and 12; here 5.454 by the films in
    # series, 300 W over 3.9639 m² (48 x 36 x 16 in): 13.76 K by the rule
    model = model_of(
        cell=5, sheet={"s": sheet(1, 3.9639, 0.001, 1e6), "air": sheet(1, 3.9639, 0.001, 1e6)},
        joint={"inner film": {"between": ["sheet.air", "sheet.s"], "conductance": "10 W/m2K"}},
        film={"outer": film(12)},
        source={"all": {"on": "sheet.air", "watts": "300 W"}},
    )  # fmt: skip
    assert solve_steady(model).temperature.max() == pytest.approx(13.76, rel=0.01)


def test_stopped_fan_leaves_the_draught(engine):
    # with the fan off, the same watts warm the draught's air: Q/(ρ V cp)
    model = model_of(
        room=25,
        **heated_sheet(1, fan={"f": {"curve": ["0 m3/h, 30 Pa", "10 m3/h, 0 Pa"], "speed": 0}}),
        airway=duct(fans=["fan.f"], resistance="0.1 Pa/(m3/h)2", draught="1 m3/h"),
    )
    (found,) = history(model, [5e4], engine=engine)
    assert found[model.site.streams["main"].outlet] - 25 == pytest.approx(3.0207, rel=2e-3)

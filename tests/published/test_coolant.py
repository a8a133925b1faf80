"""Coolant in channels, hoses and loops."""

from math import exp

import CoolProp.CoolProp as coolprop
import numpy as np
import pytest
from published_cases import field, film, history, model_of, sheet
from scipy.integrate import trapezoid

from thermsim.model.system import Model
from thermsim.solve.steady import Steady, solve_steady

BATH = {"bath": {"volume": "1 L", "loss": "1e9 W/K"}}  # its coolant is at the room's temperature
PUMP = {"p": {"curve": ["0 L/min, 40 kPa", "2 L/min, 0 kPa"]}}


def channel(width: float, depth: float, length: float, segments: int = 60, **more) -> dict:
    """A straight plate, one cell wide, that is all channel; conduction along it is negligible."""
    plate = sheet(length, width, 2 * depth, 1e-6)
    groove = {
        "path": [f"0, {width / 2} m", f"{length}, {width / 2} m"], "width": f"{width} m",
        "depth": f"{depth} m",
        "segments": segments, "loss_coefficient": 0, "entry": "developed",
    }  # fmt: skip
    return {"cold": {**plate, "channel": groove | more}}


def loop_of(*path: str, flow: str | None = "0.3 L/min", coolant: str = "water", **more) -> dict:
    pinned = {} if flow is None else {"flow": flow}
    return {"main": {"pump": "pump.p", "coolant": coolant, "path": [*path, "reservoir.bath"]} | pinned | more}


def coolant_of(model: Model, steady: Steady) -> np.ndarray:
    return steady.temperature[model.numbers("plate.cold coolant")]


def rate_of(steady: Steady, element: str = "plate.cold") -> float:
    """Heat capacity rate, W/K."""
    return steady.conditions.loops["main"].capacity_rate(element)


def test_uniformly_heated_channel():
    # the coolant's rise is linear and ends at Q/(ṁ cp), the wall leads it by q/(h P): Incropera & DeWitt
    # section 8.3
    model = model_of(
        cell=0.005, room=25, plate=channel(0.003, 0.006, 0.3), pump=PUMP, reservoir=BATH,
        loop=loop_of("plate.cold"), source={"heater": {"on": "plate.cold", "watts": "50 W"}},
    )  # fmt: skip
    steady = solve_steady(model)
    rise = 50 / rate_of(steady)
    coolant = coolant_of(model, steady) - 25
    assert coolant == pytest.approx(rise * np.arange(1, 61) / 60, rel=1e-5)
    assert coolant[-1] == pytest.approx(rise, rel=1e-7)
    lead = field(model, steady.temperature, "plate.cold")[0] - 25 - coolant
    point = steady.conditions.loops["main"]
    h = 514.4 / 0.60652 * point.liquid.conductivity  # of the worked channel below
    assert lead == pytest.approx(np.full(60, 50 / (h * 0.018 * 0.3)), rel=2e-3)


def walls_at(hot: float, segments: int) -> tuple[float, float, float]:
    """Outlet of a channel whose wall is held at `hot` (inlet 20 °C); the exact outlet, and NTU."""
    model = model_of(
        cell=0.001, room=20, plate=channel(0.003, 0.006, 1.0, segments), pump=PUMP, reservoir=BATH,
        loop=loop_of("plate.cold"), film={"held": film(1e9, "plate.cold", air=f"{hot} degC")},
    )  # fmt: skip
    steady = solve_steady(model)
    # laminar at uniform wall temperature: Nu_T 3.392 for 2:1, Shah & London (1978)
    ntu = 3.392 * steady.conditions.loops["main"].liquid.conductivity / 0.004 * 0.018 * 1.0 / rate_of(steady)
    return coolant_of(model, steady)[-1], hot - (hot - 20) * exp(-ntu), ntu


def test_channel_of_constant_wall_temperature():
    # T_out = T_w − (T_w − T_in) e^(−NTU): Incropera & DeWitt equation 8.41. Each segment is mixed, so the
    # outlet has a first-order error of about (T_w − T_in) e^(−NTU) NTU²/(2 n).
    coarse, _, _ = walls_at(60, 50)
    fine, exact, ntu = walls_at(60, 100)
    assert 2 * fine - coarse == pytest.approx(exact, abs=0.02)
    assert fine - coarse == pytest.approx(40 * exp(-ntu) * ntu**2 / 2 * (1 / 50 - 1 / 100), rel=0.1)


def test_worked_cold_plate_channel():
    # 3 x 6 mm, 0.3 m, water at 25 °C, 0.3 L/min: Re 1244.73, 144.15 Pa, h 514.4 W/m²K (Nu_T 3.392, f·Re 62.19
    # for 2:1, Shah & London 1978; water by IAPWS-95)
    model = model_of(
        cell=0.05,
        room=25,
        plate=channel(0.003, 0.006, 0.3),
        pump=PUMP,
        reservoir=BATH,
        loop=loop_of("plate.cold"),
    )
    steady = solve_steady(model)
    point = steady.conditions.loops["main"]
    passage = model.operating.loops["main"].passages["plate.cold"]
    assert passage.reynolds(5e-6, point.liquid) == pytest.approx(1244.73, rel=3e-3)
    assert passage.drop(5e-6, point.liquid) == pytest.approx(144.15, rel=3e-3)
    (group,) = (k for k, g in enumerate(model.groups) if g.name == "plate.cold channel")
    assert steady.strengths[group] == pytest.approx(514.4, rel=3e-3)
    assert model.groups[group].weight.sum() == pytest.approx(0.018 * 0.3, rel=1e-9)  # wetted perimeter × length


def test_rise_of_water_at_one_litre_a_minute():
    # 1 kW into 1.000 L/min at 25 °C: 14.392 K (IAPWS-95); here 10 W, so that the properties stay at 25 °C
    model = model_of(
        cell=0.05, room=25, plate=channel(0.003, 0.006, 0.3), pump=PUMP, reservoir=BATH,
        loop=loop_of("plate.cold", flow="1 L/min"), source={"heater": {"on": "plate.cold", "watts": "10 W"}},
    )  # fmt: skip
    steady = solve_steady(model)
    rise = coolant_of(model, steady)[-1] - 25
    assert rise == pytest.approx(0.14392, rel=1e-3)
    assert rise * rate_of(steady) == pytest.approx(10, rel=1e-6)


def test_hose_holds_coolant_back(engine):
    # 3 m of 6 mm tube at 1 L/min: 5.089 s by plug flow (volume over flow); a block steps the coolant at its
    # inlet
    model = model_of(
        room=25, pump=PUMP, reservoir=BATH,
        part={"heater": {"watts": "10 W", "heat_capacity": "1e-6 J/K"}},
        block={"b": {"resistance": "1e-3 K/W", "volume": "1e-6 mL"}},
        joint={"glue": {"between": ["part.heater", "block.b"], "resistance": "1e-3 K/W"}},
        hose={"long": {"length": "3 m", "bore": "6 mm", "segments": 100}},
        loop=loop_of("block.b", "hose.long", flow="1 L/min"),
    )  # fmt: skip
    outlet = model.numbers("hose.long")[-1]
    times = np.linspace(0, 12, 601)
    response = history(model, times, tolerance=1e-5, engine=engine)[:, outlet] - 25
    final = solve_steady(model).temperature[outlet] - 25
    assert np.interp(final / 2, response, times) == pytest.approx(5.089, rel=0.01)
    assert trapezoid(1 - response / final, times) == pytest.approx(5.089, rel=2e-3)  # mean residence time


def test_pump_meets_its_loop():
    # p = p0 − aV² meets bV² at √(p0/(a + b)): p0 60, a 0.024, b 0.05 give 28.4747 and 40.5405; here mL/s and
    # Pa
    flows = np.linspace(0, 50, 51)
    curve = [f"{v} mL/min, {60 - 0.024 * v * v} Pa" for v in flows if 60 - 0.024 * v * v >= 0]
    model = model_of(
        room=20, pump={"p": {"curve": curve}}, reservoir=BATH,
        part={"idle": {"watts": "0 W", "heat_capacity": "1 J/K"}},
        joint={"glue": {"between": ["part.idle", "block.b"], "resistance": "1 K/W"}},
        block={"b": {
            "resistance": "1 K/W", "volume": "1 mL", "drop": "20 Pa", "drop_at": "20 mL/min",
            "drop_exponent": 2,
        }},
        loop=loop_of("block.b", flow=None),
    )  # fmt: skip
    point = solve_steady(model).conditions.loops["main"]
    assert 6e7 * point.flows["pump"] == pytest.approx(28.4747, rel=1e-3)
    passage = model.operating.loops["main"].passages["block.b"]
    assert passage.drop(point.flows["pump"], point.liquid) == pytest.approx(40.5405, rel=1e-3)


def test_equal_branches_share_and_join():
    # by symmetry half the flow goes each way and the joined stream has the mean of both outlets; a first-law
    # check
    plates = {name: {**channel(0.003, 0.006, 0.3)["cold"], "corner": f"0, {0.01 * n} m"} for n, name in enumerate("ab")}
    plates["b"]["channel"] = plates["b"]["channel"] | {"path": ["0, 0.0115 m", "0.3, 0.0115 m"]}
    model = model_of(
        cell=0.01, room=25, pump=PUMP, reservoir=BATH, plate=plates,
        hose={"out": {"length": "0.1 m", "bore": "6 mm", "segments": 1}},
        loop=loop_of(["plate.a", "plate.b"], "hose.out"),
        source={"heater": {"on": "plate.a", "watts": "20 W"}},
    )  # fmt: skip
    steady = solve_steady(model)
    point = steady.conditions.loops["main"]
    assert point.flows["plate.a"] == pytest.approx(point.flows["pump"] / 2, rel=1e-6)
    outlets = [steady.temperature[model.numbers(f"plate.{name} coolant")[-1]] for name in "ab"]
    assert outlets[0] - 25 == pytest.approx(20 / (rate_of(steady, "pump") / 2), rel=1e-6)
    assert steady.temperature[model.numbers("hose.out")[0]] == pytest.approx(np.mean(outlets), abs=1e-6)


@pytest.mark.parametrize(
    ("by", "density", "cp", "k", "viscosity"),
    [
        # CoolProp: ASHRAE data by volume, Melinder's by mass, ethylene glycol 50 % at 20 °C
        ("volume", 1073.3, 3281, 0.380, 3.88e-3),
        ("mass", 1064.9, 3312, 0.389, 3.69e-3),
    ],
)
def test_glycol_in_a_loop(by, density, cp, k, viscosity):
    model = model_of(
        room=20, cell=0.05, plate=channel(0.003, 0.006, 0.3), pump=PUMP, reservoir=BATH,
        loop=loop_of("plate.cold", coolant="ethylene glycol", fraction="50 %", fraction_by=by),
    )  # fmt: skip
    liquid = solve_steady(model).conditions.loops["main"].liquid
    assert liquid.density == pytest.approx(density, rel=0.01)
    assert liquid.cp == pytest.approx(cp, rel=0.02)
    assert liquid.conductivity == pytest.approx(k, rel=0.04)
    assert liquid.viscosity == pytest.approx(viscosity, rel=0.10)


def test_water_in_a_loop_against_coolprop():
    # IAPWS-95 through CoolProp, at the temperature the loop really has
    model = model_of(
        room=40,
        cell=0.05,
        plate=channel(0.003, 0.006, 0.3),
        pump=PUMP,
        reservoir=BATH,
        loop=loop_of("plate.cold"),
    )
    point = solve_steady(model).conditions.loops["main"]
    density, cp, viscosity = (
        coolprop.PropsSI(what, "T", point.temperature_degc + 273.15, "P", 101325, "Water") for what in "DCV"
    )
    assert rate_of_flow(point) == pytest.approx(density * cp * 5e-6, rel=1e-3)
    assert point.liquid.viscosity == pytest.approx(viscosity, rel=5e-3)


def rate_of_flow(point) -> float:
    return point.capacity_rate("pump")


def test_radiator_exchanges_by_effectiveness():
    # Incropera & DeWitt, 6th ed., table 11.4, cross-flow with both unmixed: the exact series gives 0.54749 at
    # NTU 1, C_r 0.5; the air is the smaller stream. Textbook fits are within 1.6 % of the series.
    air_rate = 1.2046 * 1006.2 * 10 / 3600  # dry air at 20 °C, CoolProp
    model = model_of(
        room=20, pump=PUMP,
        part={"heater": {"watts": "1 W", "heat_capacity": "1 J/K"}},
        block={"b": {"resistance": "0.1 K/W", "volume": "1 mL"}},
        joint={"glue": {"between": ["part.heater", "block.b"], "resistance": "0.1 K/W"}},
        radiator={"r": {
            "airway": "out", "conductance": f"{air_rate} W/K", "at_flow": "10 m3/h", "exponent": 0.5,
            "volume": "1 mL",
        }},
        airway={"out": {"flow": "10 m3/h", "inlet": "20 degC"}},
        loop={"main": {
            "pump": "pump.p", "coolant": "water", "path": ["block.b", "radiator.r"],
            "flow": f"{2 * air_rate / (998.2 * 4184)} m3/s",
        }},
    )  # fmt: skip
    steady = solve_steady(model)
    (group,) = (k for k, g in enumerate(model.groups) if g.name == "radiator.r" and g.kind == "exchanger")
    smaller = steady.conditions.air["out"].capacity_rate
    assert rate_of(steady, "radiator.r") / smaller == pytest.approx(2, rel=0.01)
    assert steady.strengths[group] / smaller == pytest.approx(0.54749, rel=0.016)
    entering = steady.temperature[model.numbers("block.b coolant")[-1]]
    air_out = steady.temperature[model.site.streams["out"].outlet]
    assert (air_out - 20) * smaller == pytest.approx(1, rel=1e-6)
    assert (entering - 20) * steady.strengths[group] == pytest.approx(1, rel=1e-6)

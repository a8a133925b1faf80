"""Observed order of streams: first, for each node of air or coolant stands for what leaves its stretch.

Made up: T = 40 + 10 cos(πx/L) along a plate, heated so that it stays; the stream over it then follows
T_a' = λ (T − T_a), solved by hand. What does not depend on a grid at all is exact on any.
"""

from math import exp, pi

import numpy as np
import pytest
from observed import assert_order, heated, on_sheet
from published_cases import field, film, held, model_of, node, sheet

from thermsim.model.system import Model
from thermsim.physics.exchangers import effectiveness
from thermsim.solve.steady import Steady, solve_steady

LENGTH, WIDTH, THICKNESS, K = 0.8, 0.01, 0.004, 40.0  # one row of cells on every grid used
MEAN, SWING, WAVE = 40.0, 10.0, pi / LENGTH
INLET = 20.0
FINER = (10, 20, 40, 80)
FIRST = {"least": 0.9, "most": 1.1}


def plate_degc(x):
    """The plate's temperature, made up."""
    return MEAN + SWING * np.cos(WAVE * x)


def stream_degc(x, rate: float):
    """Exact temperature of the stream over it; `rate` λ in 1/m."""

    def driven(at):
        return MEAN + SWING * (rate**2 * np.cos(WAVE * at) + rate * WAVE * np.sin(WAVE * at)) / (rate**2 + WAVE**2)

    return driven(x) + (INLET - driven(0.0)) * np.exp(-rate * x)


def made_up(model: Model, address: str, rate: float, per_metre: float, backwards: bool = False) -> Model:
    """The model heated as the exact fields want; `per_metre`: W/mK between plate and stream."""
    x = model.site.sheets[address].centres[0]
    x = LENGTH - x if backwards else x
    lost = per_metre / WIDTH * (plate_degc(x) - stream_degc(x, rate))
    heat = lost + K * THICKNESS * WAVE**2 * (plate_degc(x) - MEAN)
    return heated(model, on_sheet(model, heat[None, :], address))


def missed(model: Model, found, address: str, nodes, rate: float, backwards: bool = False) -> tuple[float, float]:
    """Largest errors of plate and stream, K."""
    x = model.site.sheets[address].centres[0]
    plate = field(model, found, address) - plate_degc(LENGTH - x if backwards else x)
    ends = LENGTH * np.arange(1, nodes.size + 1) / nodes.size
    return float(np.abs(plate).max()), float(np.abs(found[nodes] - stream_degc(ends, rate)).max())


@pytest.mark.parametrize("direction", ["+x", "-x"])
def test_air_along_a_board(direction):
    h, back = 60.0, direction == "-x"  # about 1.4 transfer units

    def errors(n: int) -> tuple[float, float]:
        model = model_of(
            cell=LENGTH / n, room=INLET, sheet={"s": sheet(LENGTH, WIDTH, THICKNESS, K)},
            source={"made": {"on": "sheet.s", "watts": "1 W"}}, film={"air": film(h, to="airway.a")},
            airway={"a": {
                "corner": "0, 0 m", "size": f"{LENGTH} x {WIDTH} m", "height": "10 mm", "flow": "1 m3/h",
                "segments": n, "direction": direction,
            }},
        )  # fmt: skip
        # dry air at 20 °C and 101 325 Pa: p/(R T) = 1.2041 kg/m³ and 1006 J/kgK (any text)
        flow = solve_steady(model).conditions.air["a"].capacity_rate
        assert flow == pytest.approx(1.2041 * 1006 / 3600, rel=2e-3)
        rate = h * WIDTH / flow
        found = solve_steady(made_up(model, "sheet.s", rate, h * WIDTH, back)).temperature
        return missed(model, found, "sheet.s", model.numbers("airway.a"), rate, back)

    assert_order(lambda n: errors(n)[0], FINER, **FIRST)
    assert_order(lambda n: errors(n)[1], FINER, 0.9)  # the heat is given: better than first as long as little spreads


ENDLESS = {"airway": "r", "conductance": "1e6 W/K", "at_flow": "1e5 m3/h", "exponent": 0.5}  # brings coolant to its air


def cooled(n: int, radiator: dict = ENDLESS, flow: str = "0.05 L/min", k: float = K, **tables) -> Model:
    """A plate with a straight channel, both of n pieces, in a loop of water with a radiator."""
    plate = sheet(LENGTH, WIDTH, THICKNESS, k) | {"channel": {
        "path": [f"0 m, {WIDTH / 2} m", f"{LENGTH} m, {WIDTH / 2} m"], "width": "2 mm", "depth": "2 mm",
        "entry": "developed", "segments": n,
    }}  # fmt: skip
    loop = {
        "airway": {"r": {"flow": radiator["at_flow"]}},
        "radiator": {"r": radiator | {"volume": "30 mL", "drop": "2 kPa", "drop_at": "0.5 L/min"}},
        "pump": {"p": {"curve": ["0 L/min, 90 kPa", "1 L/min, 0 kPa"]}},
        "loop": {"l": {"pump": "pump.p", "coolant": "water", "flow": flow, "path": ["plate.s", "radiator.r"]}},
    }
    return model_of(**({"cell": LENGTH / n, "room": INLET, "plate": {"s": plate}} | loop | tables))


def film_and_flow(model: Model, steady: Steady) -> tuple[float, float]:
    """Heat from the metal per kelvin and metre of channel (W/mK), and the coolant's capacity flow (W/K)."""
    (group,) = [k for k, group in enumerate(model.groups) if group.name == "plate.s channel"]
    return float(steady.strengths[group]) * 8e-3, steady.conditions.loops["l"].capacity_rate("plate.s")


def test_coolant_along_a_channel():
    def errors(n: int) -> tuple[float, float]:
        model = cooled(n, source={"made": {"on": "plate.s", "watts": "1 W"}})
        steady = solve_steady(model)
        for _ in range(4):  # film and flow follow the coolant's mean temperature
            per_metre, flow = film_and_flow(model, steady)
            steady = solve_steady(made_up(model, "plate.s", per_metre / flow, per_metre))
        return missed(model, steady.temperature, "plate.s", model.numbers("plate.s coolant"), per_metre / flow)

    assert_order(lambda n: errors(n)[0], FINER, **FIRST)
    assert_order(lambda n: errors(n)[1], FINER, 0.9)  # the heat is given: better than first as long as little spreads


def test_channel_along_a_grid_line_cools_both_sides():
    # down the middle of a plate of two rows: their fields are alike
    plate = sheet(LENGTH, 0.1, THICKNESS, K) | {"channel": {
        "path": ["0 m, 0.05 m", f"{LENGTH} m, 0.05 m"], "width": "2 mm", "depth": "2 mm", "segments": 8,
    }}  # fmt: skip
    model = cooled(8, plate={"s": plate}, source={"all": {"on": "plate.s", "watts": "10 W"}}, cell=0.05)
    front, back = field(model, solve_steady(model).temperature, "plate.s")
    assert front == pytest.approx(back, abs=1e-9)


def test_coolant_past_an_even_plate():
    # a plate of 60 °C: what is left of the difference goes as exp(−h P L/ṁ c_p); laminar, developed, in a square duct
    # of one temperature: h P = 4 Nu k with Nu 2.976 (Shah & London)
    def error(segments: int) -> float:
        held_all = {side: held(side, 60, "plate.s") for side in ("front", "back")}
        model = cooled(segments, k=1e6, edge=held_all)
        steady = solve_steady(model)
        per_metre, flow = film_and_flow(model, steady)
        assert per_metre == pytest.approx(4 * 2.976 * steady.conditions.loops["l"].liquid.conductivity, rel=2e-3)
        coolant = steady.temperature[model.numbers("plate.s coolant")]
        return abs((60 - coolant[-1]) / (60 - INLET) - exp(-per_metre * LENGTH / flow))

    assert_order(error, FINER, **FIRST)


@pytest.mark.parametrize("arrangement", ["counter", "parallel", "cross"])
def test_exchanger_is_exact_on_any_grid(arrangement):
    # ε C_min (T_coolant in − T_air in) leaves the coolant and comes into the air; 10 W must all go through it
    for n in (3, 24):
        radiator = {
            "airway": "r", "conductance": "4 W/K", "at_flow": "15 m3/h", "exponent": 0.5, "arrangement": arrangement,
        }  # fmt: skip
        model = cooled(n, radiator, "0.1 L/min", source={"all": {"on": "plate.s", "watts": "10 W"}})
        steady = solve_steady(model)
        now, found = steady.conditions, steady.temperature
        air, coolant = now.air["r"].capacity_rate, now.loops["l"].capacity_rate("radiator.r")
        least, most = min(air, coolant), max(air, coolant)
        entering = found[model.numbers("plate.s coolant")[-1]]
        gone = effectiveness(4 / least, least / most, arrangement) * least * (entering - INLET)
        assert gone == pytest.approx(10, rel=1e-8)
        assert coolant * (entering - found[node(model, "radiator.r")]) == pytest.approx(10, rel=1e-8)
        assert air * (found[model.numbers("airway.r")[-1]] - INLET) == pytest.approx(10, rel=1e-8)

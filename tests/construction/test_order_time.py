"""Observed order in time of the steps, for each kind of dynamics, and how the reduced engine's error falls.

Where K does not move the exact state is a matrix exponential of the same C and K (SciPy), elsewhere the equations are
integrated by SciPy's implicit Runge-Kutta (Radau IIA, fifth order) to ten digits.
"""

import numpy as np
import pytest
from modes import Mode
from observed import assert_order
from published_cases import film, history, model_of, node, rectangle, sheet
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from thermsim.model.system import Model
from thermsim.solve.dynamics import FullDynamics
from thermsim.solve.governors import GovernorState, governor_laws
from thermsim.solve.steady import solve_steady
from thermsim.solve.tr_bdf2 import Stepper

STEPS = (16, 32, 64)
WARM = {"corner": "0, 0 mm", "size": "80 x 60 mm", "height": "10 mm", "flow": "5 m3/h", "segments": 4}


def fixed_steps(model: Model, end: float, steps: int) -> np.ndarray:
    """Temperatures of all nodes after so many equal steps, and the governed speeds behind them."""
    stepper = Stepper(FullDynamics(model), 1e-9)
    governors = tuple(law.start() for law in stepper.laws)
    state = stepper.state(0.0, model.start(), governors, 0.0)
    for _ in range(steps):
        state = stepper.step(state, end / steps, 0.0)[0].last
    return np.r_[state.x, [governor.speed for governor in state.governors]]


def box(**more) -> Model:
    """A board with two parts, of few unknowns and a fast and a slow end."""
    parts = {
        name: {
            "on": "sheet.s", "centre": f"{x} mm, 30 mm", "size": "20 x 20 mm", "watts": f"{watts} W",
            "to_board": "2 K/W", "heat_capacity": "20 J/K",
        }
        for name, x, watts in (("a", 20, 5), ("b", 60, 2))
    }  # fmt: skip
    tables = {
        "cell": 0.01, "room": 20, "sheet": {"s": sheet(0.08, 0.06, 0.0016, 20)}, "part": parts,
        "film": {"top": film(20)},
    }  # fmt: skip
    return model_of(**(tables | more))


def plain() -> Model:
    return box()


def streamed() -> Model:
    return box(film={"top": film(20, to="airway.a"), "under": film(5, face="bottom")}, airway={"a": WARM})


def massless() -> Model:
    """With nodes of no capacity: a part's top, the vapour of a heat pipe, cooled rims."""
    return box(
        part=box().case.resolved()["part"] | {"c": {
            "on": "sheet.s", "centre": "40 mm, 50 mm", "size": "10 x 10 mm", "watts": "1 W", "to_board": "1 K/W",
            "to_top": "0.5 K/W", "heat_capacity": "20 J/K",
        }},
        film={"top": film(20), "c": film(60, "part.c")},
        edge={"rim": {"on": "sheet.s", "side": "left", "h": "40 W/m2K"}},
        heat_pipe={"p": {
            "between": ["part.a", "sheet.s"], "resistance": "0.5 K/W", "capacity": "35 W",
            **rectangle(0.06, 0.04, 0.02, 0.02),
        }},
    )  # fmt: skip


def by_exponential(model: Model, end: float) -> np.ndarray:
    """The exact state of C dT/dt = P − K T; massless nodes are eliminated, for they follow the others at once."""
    heavy = model.capacity > 0
    steady = solve_steady(model)
    matrix = model.square(model.matrix(steady.strengths)).toarray()
    light = ~heavy
    follow = -np.linalg.solve(matrix[np.ix_(light, light)], matrix[np.ix_(light, heavy)])
    kept = matrix[np.ix_(heavy, heavy)] + matrix[np.ix_(heavy, light)] @ follow
    away = (model.start() - steady.temperature)[heavy]
    left = expm(-end * kept / model.capacity[heavy, None]) @ away
    found = steady.temperature.copy()
    found[heavy] += left
    found[light] += follow @ left
    return found


@pytest.mark.parametrize("made", [plain, streamed, massless])
def test_second_order_where_nothing_moves(made):
    model = made()
    exact = by_exponential(model, 100)
    assert_order(lambda steps: float(np.abs(fixed_steps(model, 100, steps) - exact).max()), STEPS, 1.9)


def radiating() -> Model:
    return box(room=20, start=120, film={"top": film(8, emissivity=0.9), "up": {
        "on": "sheet.s", "face": "bottom", "law": "natural", "orientation": "down", "length": "17 mm", "emissivity": 0,
    }})  # fmt: skip


def swinging() -> Model:
    """The room swings, and a part's watts."""
    watts = {"mean": "5 W", "amplitude": "4 W", "period": "70 s"}
    room = {"mean": "20 degC", "amplitude": "8 K", "period": "110 s"}
    return box(duty={"w": {"of": "part.a.watts", "sine": watts}, "r": {"of": "room.temperature", "sine": room}})


def looped() -> Model:
    """A plate with water through it: film and flow follow the coolant's temperature."""
    channel = {"path": ["0 mm, 30 mm", "80 mm, 30 mm"], "width": "3 mm", "depth": "3 mm", "segments": 4}
    return box(
        start=60,
        sheet={"s": sheet(0.08, 0.06, 0.0016, 20)},
        plate={"p": sheet(0.08, 0.06, 0.008, 167) | {"channel": channel}},
        joint={"pad": {"between": ["part.a", "plate.p"], "resistance": "1 K/W"}},
        airway={"a": WARM},
        pump={"p": {"curve": ["0 L/min, 20 kPa", "1 L/min, 0 kPa"]}},
        radiator={"r": {
            "airway": "a", "conductance": "3 W/K", "at_flow": "5 m3/h", "exponent": 0.5, "volume": "30 mL",
            "drop": "2 kPa", "drop_at": "0.5 L/min",
        }},
        loop={"l": {"pump": "pump.p", "coolant": "water", "path": ["plate.p", "radiator.r"]}},
    )  # fmt: skip


FAN = {"f": {"curve": ["0 m3/h, 30 Pa", "12 m3/h, 0 Pa"]}}


def governed(**law) -> Model:
    """A fan that follows a part, its film as its flow; the start keeps it away from its limits."""
    way = {key: value for key, value in WARM.items() if key != "flow"}
    way |= {"fans": ["fan.f"], "resistance": "0.2 Pa/(m3/h)2"}
    scaled = {"on": "sheet.s", "law": "scaled", "h": "30 W/m2K", "at_flow": "6 m3/h", "exponent": 0.6, "to": "airway.a"}
    governor = {"sensor": "part.a", "drives": ["fan.f"], "lag": "8 s", "start": "40 %", "min_speed": "10 %"} | law
    return box(start=38, film={"top": scaled}, airway={"a": way}, fan=FAN, governor={"g": governor})


def curve() -> Model:
    return governed(law="curve", curve=["20 degC, 20 %", "60 degC, 90 %"])


def hold() -> Model:
    return governed(law="hold", set_point="40 degC", gain="1.5 %/K", reset="60 s")


def by_radau(model: Model, end: float) -> np.ndarray:
    """Temperatures and governed speeds of a model whose nodes all have a capacity."""
    laws, count = governor_laws(model), model.node_count
    assert (model.capacity > 0).all()

    def rates(time, state):
        speeds, integrals = state[count : count + len(laws)], state[count + len(laws) :]
        driven = {device: v for law, v in zip(laws, speeds, strict=True) for device in law.table.drives}
        inputs = model.program.at(time, driven, 0.0)
        now = model.conditions(state[:count], inputs)
        heat = model.heat_left(now, model.strengths(now), inputs) / model.capacity
        # what a governor does, as it is stated: lag · dv/dt = demand − v, reset · di/dt = gain · (T − set point)
        by_speed, by_integral = [], []
        for law, v, i in zip(laws, speeds, integrals, strict=True):
            table, reading = law.table, law.read(state[:count])
            held = table.law == "hold"
            i_rate = table.gain * (reading - table.set_point) / table.reset if held else 0.0
            wanted = i + table.gain * (reading - table.set_point) if held else law.demand(reading, i, False)
            by_speed.append((wanted - v) / table.lag)
            by_integral.append(i_rate)
        return np.r_[heat, by_speed, by_integral]

    starts: list[GovernorState] = [law.start() for law in laws]
    first = np.r_[model.start(), [s.speed for s in starts], [s.integral for s in starts]]
    found = solve_ivp(rates, (0, end), first, method="Radau", rtol=1e-9, atol=1e-8)
    assert found.success
    return found.y[: count + len(laws), -1]


@pytest.mark.parametrize("made", [radiating, swinging, looped, curve, hold])
def test_second_order_where_laws_move(made):
    model = made()
    exact = by_radau(model, 60)
    assert_order(lambda steps: float(np.abs(fixed_steps(model, 60, steps) - exact).max()), STEPS, 1.9)


def test_governed_fan_moves_within_its_limits():
    # otherwise the two orders above would say nothing of it
    for made in (curve, hold):
        speeds = [fixed_steps(made(), 60 * share, 16)[-1] for share in (0.1, 0.4, 1.0)]
        assert np.ptp(speeds) > 0.02
        assert 0.11 < min(speeds) < max(speeds) < 0.99


def test_switch_is_thrown_in_time():
    # an instant is found within a step: errors fall with the tolerance as the step's own do, with exponent 2/3
    law = {"law": "switch", "on_above": "42 degC", "off_below": "39 degC", "lag": "8 s", "start": "10 %"}
    found = [history(governed(**law), [30, 60, 90], tolerance) for tolerance in (1e-5, 1e-1, 1e-2, 1e-3)]
    errors = [float(np.abs(one - found[0]).max()) for one in found[1:]]
    assert errors[0] < 0.1
    assert errors[2] < errors[0] / 10, errors


@pytest.mark.parametrize("made", [plain, radiating, looped, curve])
def test_reduced_error_falls_with_its_tolerance(made):
    model = made()
    times = [1, 10, 40]
    exact = history(model, times, 1e-5)
    tolerances = (0.2, 0.02, 0.002)
    errors = [float(np.abs(history(model, times, t, engine="reduced") - exact).max()) for t in tolerances]
    assert all(error <= tolerance for error, tolerance in zip(errors, tolerances, strict=True)), errors
    assert errors[2] < errors[0] / 10, errors


def test_one_mode_decays_at_its_rate():
    # without a source T = 20 + 10 cos(πx/a) cos(2πy/b) decays as one mode:
    # λ = 51.351844/3256 = 0.01577145 1/s; after 60 s 0.3881796 is left
    mode = Mode(20, 10, 1, 2, 0.16, 0.10)
    board = sheet(0.16, 0.10, 0.0016, 12, 2.035e6, conductivity_y="3 W/mK")
    model = model_of(cell=0.001, room=20, sheet={"s": board}, film={"top": film(25)})
    start = mode.on(model).ravel()
    (found,) = history(model, [60], tolerance=1e-4, start=start)
    left = (found - 20) / (start - 20)
    assert left == pytest.approx(np.full(left.size, 0.3881796), rel=5e-4)


def radiating_pair() -> Model:
    """Two parts, one of which radiates: nonlinear, with a fast and a slow mode."""
    return model_of(
        start=300,
        part={
            "one": {"watts": "20 W", "heat_capacity": "50 J/K", "size": "10 x 10 cm"},
            "two": {"watts": "0 W", "heat_capacity": "200 J/K", "size": "10 x 10 cm"},
        },
        joint={"g": {"between": ["part.one", "part.two"], "resistance": "0.5 K/W"}},
        film={"out": film(8, "part.two", emissivity=0.9)},
    )


def test_two_parts_written_out_by_hand():
    # against SciPy's eighth-order Runge-Kutta on the two equations written out by hand
    def rates(_time, t):
        between = 2 * (t[0] - t[1])
        lost = 0.01 * (8 * t[1] + 0.9 * 5.670374419e-8 * ((t[1] + 273.15) ** 4 - 273.15**4))
        return [(20 - between) / 50, (between - lost) / 200]

    exact = solve_ivp(rates, (0, 100), [300, 300], method="DOP853", rtol=1e-11, atol=1e-9).y[:, -1]
    model = radiating_pair()
    both = [node(model, "part.one"), node(model, "part.two")]
    assert_order(lambda n: float(np.abs(fixed_steps(model, 100, n)[both] - exact).max()), (8, 16, 32, 64), 1.9)
    for engine in ("full", "reduced"):
        found = history(model, [100], tolerance=0.02, engine=engine)[0][both]
        assert found == pytest.approx(exact, abs=0.02), engine

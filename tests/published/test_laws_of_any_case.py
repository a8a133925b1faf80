"""What must hold of boxes with all that is nonlinear: the first law, how close iterations settle, governors at rest.

The laws on boxes of every kind are in `tests/construction`.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_cases import film, model_of, node, rectangle, sheet, steps_of

from thermsim.solve.steady import solve_steady
from thermsim.solve.transient import Transient

engines = pytest.mark.parametrize("engine", ["full", "reduced"])
few = settings(max_examples=8, deadline=None, derandomize=True, database=None)

watts = st.integers(0, 20_000).map(lambda milliwatts: milliwatts / 1000)
films = st.floats(2, 60)
conductivities = st.floats(0.3, 200)
steps = st.integers(1, 6)  # of 10 mm, in a board of 80 x 60 mm


@st.composite
def boxes(draw) -> dict:
    """A board with two parts under a lid with one patch: random watts, films, places."""
    places = draw(st.tuples(steps, st.integers(1, 4))), draw(st.tuples(steps, st.integers(1, 4)))
    parts = {
        name: {
            "on": "sheet.board", "face": face, "centre": f"{10 + 10 * x} mm, {10 * y} mm",
            "size": "10 x 10 mm",
            "watts": f"{draw(watts)} W", "to_board": "2 K/W", "heat_capacity": "5 J/K",
        }
        for name, face, (x, y) in zip(("a", "b"), ("top", "bottom"), places, strict=True)
    }  # fmt: skip
    patch = {"p": {**rectangle(0.02, 0.02, 0.03, 0.02), "conductivity": f"{draw(conductivities)} W/mK"}}
    return {
        "cell": 0.01,
        "sheet": {
            "board": sheet(0.08, 0.06, 0.0016, draw(conductivities)),
            "lid": sheet(0.08, 0.06, 0.002, draw(conductivities), patch=patch),
        },
        "part": parts,
        "joint": {
            "screws": {
                "between": ["sheet.board", "sheet.lid"], "resistance": "3 K/W", **rectangle(0, 0, 0.02, 0.02),
            },
            "pad": {"between": ["part.a", "sheet.lid"], "resistance": "1 K/W"},
        },
        "film": {
            "board": film(draw(films), "sheet.board", face="bottom"), "lid": film(draw(films), "sheet.lid"),
        },
    }  # fmt: skip


def wild(box: dict) -> dict:
    """The same box with all that is nonlinear: natural convection, radiation, a governed fan, a loop."""
    width, depth = 0.003, 0.003
    plate = sheet(0.08, 0.06, 0.008, 167, corner="0, 0 m")
    return box | {
        "room": 25,
        "plate": {"cold": {**plate, "channel": {
            "path": ["0 mm, 30 mm", "80 mm, 30 mm"], "width": f"{width} m", "depth": f"{depth} m",
            "segments": 8,
        }}},
        "joint": box["joint"] | {"plate": {"between": ["plate.cold", "part.b"], "resistance": "0.5 K/W"}},
        "film": box["film"] | {
            "skin": {
                "on": "sheet.lid", "face": "top", "law": "natural", "orientation": "up", "length": "17 mm",
                "emissivity": 0.9,
            },
            "flow": {"on": "sheet.board", "law": "duct", "to": "airway.main"},
        },
        "radiation": {"gap": {"between": ["sheet.board", "sheet.lid"], "emissivity": [0.9, 0.5]}},
        "airway": {"main": {
            "corner": "0, 0 mm", "size": "80 x 60 mm", "height": "10 mm", "fans": ["fan.f"],
            "resistance": "0.1 Pa/(m3/h)2", "segments": 4,
        }},
        "fan": {"f": {"curve": ["0 m3/h, 30 Pa", "10 m3/h, 0 Pa"]}},
        "governor": {"g": {
            "sensor": "part.a", "drives": ["fan.f"], "law": "hold", "set_point": "40 degC", "gain": "5 %/K",
            "reset": "60 s", "min_speed": "20 %",
        }},
        "pump": {"p": {"curve": ["0 L/min, 20 kPa", "1 L/min, 0 kPa"]}},
        "radiator": {"r": {
            "airway": "main", "conductance": "5 W/K", "at_flow": "10 m3/h", "exponent": 0.5,
            "volume": "30 mL",
            "drop": "2 kPa", "drop_at": "0.5 L/min",
        }},
        "loop": {"main": {"pump": "pump.p", "coolant": "water", "path": ["plate.cold", "radiator.r"]}},
    }  # fmt: skip


@engines
@few
@given(box=boxes())
def test_first_law_holds_as_closely_as_iterations_settle(engine, box):
    # with natural convection, radiation, a governed fan and a loop, what is left is that of the Newton
    # iterations
    model = model_of(**wild(box), start=60)
    assert max(unbalanced(step) for step in steps_of(model, 600, 0.02, engine)[0]) <= 5e-4


@few
@given(boxes())
def test_first_law_holds_to_rounding_where_iterations_go_on(box):
    model = model_of(**wild(box), start=60)
    close = Transient.of(model, 0.02)
    close.stepper.stages.settled = 1e-7
    assert max(unbalanced(step) for step in close.steps(20)) <= 1e-6


def unbalanced(step) -> float:
    """Heat supplied less rejected less stored, as a share of the largest."""
    left = step.supplied - step.rejected - step.stored
    return abs(left) / max(abs(step.supplied), abs(step.rejected), abs(step.stored))


@few
@given(boxes())
def test_heat_makes_nothing_colder(box):
    model = model_of(**box)
    found = solve_steady(model).temperature
    assert found.min() >= -1e-9
    # and the hottest place is a heated part or, with no heat, nowhere
    parts = found[[node(model, "part.a"), node(model, "part.b")]]
    assert found.max() == pytest.approx(parts.max(), abs=1e-9)


def test_refinement_goes_one_way():
    # a centred patch: the coarser the grid, the more its peak is averaged away; differences shrink fourfold
    peaks = []
    for cell in (0.01, 0.005, 0.0025, 0.00125):
        model = model_of(
            cell=cell,
            sheet={"s": sheet(0.16, 0.1, 0.0016, 20)},
            film={"both": film(20)},
            source={"chip": {"on": "sheet.s", **rectangle(0.07, 0.04, 0.02, 0.02), "watts": "10 W"}},
        )
        peaks.append(solve_steady(model).temperature.max())
    gains = np.diff(peaks)
    assert (np.sign(gains) == np.sign(gains[0])).all()
    assert abs(gains[2]) < 0.5 * abs(gains[1]) < 0.25 * abs(gains[0]) * 1.2


def test_governor_rests_on_its_set_point(engine):
    # integral action leaves no offset (any text on control); the history goes to the steady state's speed
    box = wild({
        "cell": 0.01,
        "sheet": {"board": sheet(0.08, 0.06, 0.0016, 20), "lid": sheet(0.08, 0.06, 0.002, 100)},
        "part": {
            name: {
                "on": "sheet.board", "face": face, "centre": "40, 30 mm", "size": "10 x 10 mm",
                "watts": "1 W",
                "to_board": "2 K/W", "heat_capacity": "5 J/K",
            }
            for name, face in (("a", "top"), ("b", "bottom"))
        },
        "joint": {}, "film": {},
    })  # fmt: skip
    for kind in ("plate", "joint", "pump", "radiator", "loop"):
        del box[kind]
    box["governor"]["g"]["set_point"] = "70 degC"
    model = model_of(**box)
    steady = solve_steady(model)
    part = node(model, "part.a")
    assert steady.temperature[part] == pytest.approx(70, abs=1e-6)
    assert 0.2 < steady.speeds["fan.f"] < 1.0
    course, dynamics = steps_of(model, 7200, 0.02, engine)
    *_, last = course
    assert dynamics.field(last.last.x)[part] == pytest.approx(70, abs=0.02)
    assert last.last.governors[0].speed == pytest.approx(steady.speeds["fan.f"], abs=2e-3)

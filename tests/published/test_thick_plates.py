"""Thick plates under small sources: what the sheet lacks, told as a limit, closes the gap to three dimensions."""

import pytest
from published_cases import film, model_of, rectangle

from thermsim.solve.steady import solve_steady
from thermsim.studies.limits.plates import misread, plate_limits

SOLID = 19.131  # K, the general solution of Yovanovich, Muzychka & Culham 1999 (from memory), by two series


def plate(thickness: float = 0.005, **more) -> dict:
    """160 x 100 mm of aluminium, its real conductivity through too."""
    return {
        "corner": "0, 0 m", "size": "0.16 x 0.1 m", "thickness": f"{thickness} m", "conductivity": "167 W/mK",
        "heat_density": "2e6 J/m3K",
    } | more  # fmt: skip


def part(**more) -> dict:
    """50 W on 20 x 20 mm in the middle."""
    return {"watts": "50 W", "heat_capacity": "10 J/K", "size": "20 x 20 mm"} | more


ON_BOARD = {"on": "sheet.s", "centre": "80, 50 mm", "to_board": "2 K/W"}  # so much that every cell gets its even share


def solved(thickness: float = 0.005, board: dict | None = None, **tables):
    model = model_of(
        cell=0.001, sheet={"s": plate(thickness, **(board or {}))}, film={"far": film(500, face="bottom")}, **tables
    )
    return model, solve_steady(model)


def test_the_sheet_and_what_it_lacks_add_up_to_the_solid():
    model, steady = solved(part={"p": part(**ON_BOARD)})
    (one,) = misread(model, steady)
    node = model.numbers("part.p")[0]
    face = steady.temperature[node] - 50 * 2
    assert face < SOLID - 1.0
    assert face + one.low_k == pytest.approx(SOLID, rel=2e-3)
    (told,) = plate_limits(model, [steady])
    assert told["name"] == "thick plate under a small source"
    assert told["where"] == ["part.p"]
    assert told["error_k"] == one.low_k


def test_a_joint_that_holds_half_the_thickness_is_not_counted_twice():
    joint = {"between": ["part.p", "sheet.s"], "resistivity": "800 mm2K/W", **rectangle(0.07, 0.04, 0.02, 0.02)}
    model, steady = solved(part={"p": part()}, joint={"paste": joint})
    (one,) = [each for each in misread(model, steady) if each.what == "joint.paste"]
    face = steady.temperature[model.numbers("part.p")[0]] - 50 * 800e-6 / 4e-4
    assert one.low_k < 0  # half the thickness under the source alone is more than what spreading costs
    assert face + one.low_k == pytest.approx(SOLID, rel=2e-3)


def test_heat_put_into_a_rectangle_of_a_sheet():
    source = {"on": "sheet.s", "watts": "50 W", **rectangle(0.07, 0.04, 0.02, 0.02)}
    model, steady = solved(source={"heater": source})
    (one,) = misread(model, steady)
    sheet = model.site.sheets["sheet.s"]
    mean = steady.temperature[sheet.node[sheet.inside((0.07, 0.04), (0.02, 0.02))]].mean()
    assert (one.what, mean + one.low_k) == ("source.heater", pytest.approx(SOLID, rel=2e-3))


def test_a_thin_plate_is_not_told():
    model, steady = solved(thickness=0.0005, part={"p": part(**ON_BOARD)})
    assert not list(plate_limits(model, [steady]))


def test_a_board_of_layers_is_told_as_a_bound():
    layered = {"conductivity": "25 W/mK", "conductivity_through": "0.35 W/mK"}
    model, steady = solved(0.0016, layered, part={"p": part(watts="1 W", **ON_BOARD)})
    (told,) = plate_limits(model, [steady])
    assert told["name"] == "board under a small source"
    assert told["error_k"] > 1.0
    assert "upper bound" in told["text"]
    # measured to the board beside the part (JEDEC JESD51-8) it holds the laminate: only what is over it counts
    bare = told["error_k"] + 2.0
    model, steady = solved(0.0016, layered, part={"p": part(watts="1 W", **ON_BOARD | {"to_board": f"{bare} K/W"})})
    assert not list(plate_limits(model, [steady]))


def test_a_sink_reads_the_other_way_round():
    # 50 W leave 5 mm of aluminium through 20 x 20 mm of its far face, 40 mm beside their source: the model less the
    # solid (3-D finite elements, quadratic hexahedra, once: 34.650 K against 34.218) is what the source lacks, less
    # what the joint's half thickness holds too much
    cold = {"watts": "0 W", "heat_capacity": "10 J/K", "size": "20 x 20 mm"}
    paste = {"between": ["sheet.s", "part.cold"], "resistivity": "20 mm2K/W"}
    model = model_of(
        cell=0.001, sheet={"s": plate()}, part={"p": part(**ON_BOARD), "cold": cold},
        film={"top": film(20, face="top"), "cold": film(1e5, "part.cold")},
        joint={"sink": paste | rectangle(0.11, 0.04, 0.02, 0.02)},
    )  # fmt: skip
    found = {one.what: one.low_k for one in misread(model, solve_steady(model))}
    assert found["joint.sink"] < 0 < found["part.p"]
    assert found["part.p"] + found["joint.sink"] == pytest.approx(34.650 - 34.218, abs=0.1)
    (told,) = plate_limits(model, [solve_steady(model)])
    assert told["where"] == ["part.p"]  # the joint errs on the safe side
    assert "reads low" in told["text"]

"""Streams of air and coolant where they branch, stop, feed each other or are blocked."""

import pytest
from plain_cases import FAN, RADIATOR, STREAM, case_of, film, loop_tables, part, plate, sheet
from scipy.optimize import fsolve

from thermsim.model.build import build
from thermsim.model.operating import Controls
from thermsim.solve.governors import sensor_nodes
from thermsim.solve.ledger import outflows
from thermsim.solve.steady import solve_steady

LITRE_A_MINUTE = 1e-3 / 60


def test_branches_share_the_flow_and_mix():
    tables = loop_tables(path=["hose.h", ["plate.c", ["hose.i", "plate.d"]], "radiator.r"]) | {
        "plate": {"c": plate(), "d": plate(corner="0, 100 mm")},
        "part": {"p": part(on="plate.c", watts="40 W"), "q": part(on="plate.d", centre="50, 130 mm", watts="25 W")},
        "hose": {"h": {"length": "1 m", "bore": "6 mm"}, "i": {"length": "1.5 m", "bore": "4 mm"}},
    }  # fmt: skip
    tables["plate"]["d"]["channel"] = {"path": ["5, 130 mm", "95, 130 mm"], "width": "4 mm", "depth": "4 mm"}
    model = build(case_of(**tables))
    steady = solve_steady(model)
    point = steady.conditions.loops["m"]
    passages = model.operating.loops["m"].passages

    def drop(flow, *names):
        return sum(passages[name].drop(flow, point.liquid) for name in names)

    def balances(flows):  # L/min; a straight pump curve, pressure with density
        c, d = flows * LITRE_A_MINUTE
        rest = drop(c + d, "hose.h", "radiator.r")
        head = 30e3 * (1 - (c + d) / (2 * LITRE_A_MINUTE)) * point.liquid.density / 998.2
        return [drop(c, "plate.c") - drop(d, "hose.i", "plate.d"), head - rest - drop(c, "plate.c")]

    c, d = fsolve(balances, [0.8, 0.5]) * LITRE_A_MINUTE
    # the tool interpolates flows over 1 K of coolant temperature
    assert point.flows["plate.c"] == pytest.approx(c, rel=2e-4)
    assert point.flows["plate.d"] == pytest.approx(d, rel=2e-4)
    inlet, hot_c, hot_d = (
        steady.temperature[model.numbers(name)[-1]] for name in ("hose.h", "plate.c coolant", "plate.d coolant")
    )
    assert point.capacity_rate("plate.c") * (hot_c - inlet) == pytest.approx(40, rel=1e-9)
    assert point.capacity_rate("plate.d") * (hot_d - inlet) == pytest.approx(25, rel=1e-9)
    assert sum(outflows(model, steady.conditions, steady.strengths).values()) == pytest.approx(65, rel=1e-9)


def test_an_airlock_in_a_branch_of_a_branch_closes_that_branch_only():
    hoses = {name: {"length": "1 m", "bore": "6 mm"} for name in "hijk"}
    path = ["hose.h", ["plate.c", ["hose.i", ["hose.j", "hose.k"]]], "radiator.r"]
    model = build(case_of(**loop_tables(path=path) | {"hose": hoses}))
    flows = model.operating.loops["m"].flows(30.0, 1.0, frozenset(["hose.j"]))
    assert flows["hose.j"] == 0
    assert flows["hose.k"] == pytest.approx(flows["hose.i"])
    assert flows["hose.i"] > 0.1 * flows["pump"]


@pytest.mark.parametrize("pinned", [{}, {"flow": "1 L/min"}], ids=["found", "pinned"])
def test_an_airlock_in_the_one_way_round_stops_the_loop(pinned):
    model = build(case_of(**loop_tables(**pinned)))
    hydraulics = model.operating.loops["m"]
    assert hydraulics.flows(30.0, 1.0)["hose.h"] > 0
    assert set(hydraulics.flows(30.0, 1.0, frozenset(["hose.h"])).values()) == {0.0}


def test_stagnant_coolant_carries_nothing():
    # the plate alone, cooled by its film: 3 W over h A with half the plate's thickness in series
    hose = {"h": {"length": "1 m", "bore": "6 mm", "loss": "5 W/mK"}}  # where it would cool, did it move
    model = build(case_of(**loop_tables(flow="0 L/min") | {"film": {"t": film(on="plate.c")}, "hose": hose}))
    steady = solve_steady(model)
    area, h = 0.006, 12 / (1 + 12 * 0.004 / 160)
    mean = steady.temperature[model.numbers("plate.c")] @ model.site.sheets["plate.c"].area.ravel() / area
    assert mean - 22 == pytest.approx(3 / (h * area), rel=2e-4)
    assert steady.temperature[model.numbers("hose.h")] == pytest.approx([22] * 4, abs=1e-3)


@pytest.mark.parametrize("place", ["inlet", "outlet"])
@pytest.mark.parametrize("air", ["12 m3/h", "0 m3/h"])
@pytest.mark.parametrize("coolant", ["0.8 L/min", "0 L/min"])
def test_a_radiator_before_or_behind_a_board(place, air, coolant):
    tables = loop_tables(flow=coolant) | {
        "sheet": {"b": sheet(corner="0, 200 mm")},
        "airway": {"a": STREAM | {"corner": "0, 200 mm", "flow": air, "fans": [], "resistance": "0 Pa/(m3/h)2"}},
        "fan": {}, "radiator": {"r": RADIATOR | {"place": place, "still": "0.3 W/K"}},
        "part": {"p": part(on="plate.c", watts="30 W"), "q": part(centre="50, 230 mm", watts="5 W")},
        "film": {"t": film(to="airway.a"), "c": film(on="plate.c"), "u": film(face="bottom", h="5 W/m2K")},
    }  # fmt: skip
    model = build(case_of(**tables))
    steady = solve_steady(model)
    full = steady.conditions.temperature
    (k,) = (k for k, group in enumerate(model.groups) if group.kind == "exchanger")
    air_in, coolant_in = model.groups[k].sender[:2]
    air_out = model.groups[k].receiver[2]
    moved = steady.strengths[k] * (full[coolant_in] - full[air_in])
    air_rate = steady.conditions.air["a"].capacity_rate
    assert air_rate * (full[air_out] - full[air_in]) == pytest.approx(moved, rel=1e-6, abs=1e-9)
    assert sum(outflows(model, steady.conditions, steady.strengths).values()) == pytest.approx(35, rel=1e-6)
    parts = [full[model.numbers(name)[0]] for name in ("part.p", "part.q")]
    assert full.min() >= 22 - 1e-6  # the room is the coldest, a heated part the hottest
    assert full.max() <= max(parts) + 1e-6
    if air == "0 m3/h" or coolant == "0 L/min":
        assert abs(moved) < 1e-9


def test_an_airway_takes_its_air_from_behind_the_radiator_of_the_one_before():
    tables = loop_tables() | {
        "airway": {
            "a": STREAM | {"corner": "0, 200 mm", "flow": "10 m3/h", "fans": [], "resistance": "0 Pa/(m3/h)2"},
            "next": {"inlet": "airway.a", "flow": "10 m3/h"},
        },
        "radiator": {"r": RADIATOR | {"place": "outlet"}},
    }
    model = build(case_of(**tables))
    full = solve_steady(model).conditions.temperature
    rise = 3 / (10 / 3600 * 1.196 * 1006)  # all heat goes to the air by the radiator; density at 22 °C
    assert full[model.site.chains["next"][0]] - 22 == pytest.approx(rise, rel=2e-3)
    assert full[sensor_nodes(model, "airway.a")[0]] - 22 == pytest.approx(rise, rel=2e-3)


def test_a_radiator_in_stirred_air_gives_its_heat_to_that_air():
    tables = loop_tables() | {
        "fan": {"f": FAN},
        "airway": {
            "box": {"draught": "1 m3/h"},
            "a": {"inlet": "airway.box", "returns": True, "fans": ["fan.f"], "resistance": "0.1 Pa/(m3/h)2"},
        },
    }
    model = build(case_of(**tables))
    steady = solve_steady(model)
    full = steady.conditions.temperature
    box = full[model.numbers("airway.box")[0]]
    assert box - 22 == pytest.approx(3 / steady.conditions.air["box"].capacity_rate, rel=1e-6)
    assert full[model.numbers("radiator.r")[0]] > box  # heat flows from the coolant to the air


@pytest.mark.parametrize(
    ("way", "factor"),
    [
        ({"resistance": "0.1 Pa/(m3/h)2"}, 4.0),
        ({"resistance": "0 Pa/(m3/h)2", "opening": {"vent": {"area": "4 cm2", "loss": 2.0}}}, 4.0),
        ({"resistance": "0.1 Pa/(m3/h)2", "filter": "0.1 Pa/(m3/h)2"}, 2.5),  # the filter clogs, nothing else
    ],
    ids=["resistance", "opening", "filter"],
)
def test_blocking_multiplies_what_resists(way, factor):
    model = build(
        case_of(
            sheet={"b": sheet()}, part={"p": part()}, film={"t": film()}, fan={"f": FAN}, airway={"a": STREAM | way}
        )
    )
    path = model.operating.air["a"]
    assert path.resistance(4.0) == pytest.approx(factor * path.resistance(1.0))
    free, blocked = (path.point(22.0, Controls({}, {"a": by})).flow for by in (1.0, 4.0))
    assert blocked < 0.9 * free


def test_a_wall_lies_where_its_side_is_whatever_its_name():
    tables = {
        "sheet": {"b": sheet(), "lid": sheet()}, "part": {"p": part()}, "fan": {"f": FAN}, "airway": {"a": STREAM},
        "wall": {"east": {
            "side": "right", "size": "60 x 30 mm", "thickness": "1 mm", "material": "copper",
            "joins": ["sheet.b", "sheet.lid"],
        }},
        "film": {"t": film(to="airway.a"), "w": film(on="wall.east", to="airway.a")},
    }  # fmt: skip
    model = build(case_of(**tables))
    (group,) = (group for group in model.groups if group.name == "film.w")
    assert group.sender[0] == model.numbers("airway.a")[-1]


def test_a_patch_has_the_heat_capacity_of_its_sheet_unless_stated():
    # aluminium 6061, 2700 kg/m³ and 896 J/kgK: Incropera & DeWitt table A.1 (of 2024 alloy near it) within 5 %
    base = {"corner": "0, 0 mm", "size": "100 x 60 mm", "thickness": "2 mm", "material": "aluminium 6061"}
    patched = base | {"patch": {"q": {"corner": "0, 0 mm", "size": "50 x 60 mm", "conductivity": "400 W/mK"}}}
    heats = [build(case_of(sheet={"b": table}, part={"p": part()}, film={"t": film()})) for table in (base, patched)]
    plain, with_patch = (model.capacity[model.numbers("sheet.b")].sum() for model in heats)
    assert with_patch == pytest.approx(plain)
    assert plain == pytest.approx(2700 * 896 * 0.1 * 0.06 * 0.002, rel=0.05)


def test_heat_pipes_share_what_one_resistance_would_carry():
    # three pipes of 0.9 K/W side by side are 0.3 K/W
    tables = {
        "sheet": {"b": sheet(), "d": sheet(corner="300, 0 mm")}, "part": {"p": part(watts="10 W")},
        "film": {"t": film(), "u": film(on="sheet.d", h="50 W/m2K")},
        "heat_pipe": {"q": {"between": ["part.p", "sheet.d"], "count": 3, "resistance": "0.9 K/W", "capacity": "20 W"}},
    }  # fmt: skip
    model = build(case_of(**tables))
    steady = solve_steady(model)
    sheet_d = model.site.ends("sheet.d")
    drop = steady.temperature[model.numbers("part.p")[0]] - steady.temperature[sheet_d.node] @ sheet_d.share
    assert outflows(model, steady.conditions, steady.strengths)["film.u"] == pytest.approx(drop / 0.3, rel=1e-9)

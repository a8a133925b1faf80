"""Odd cases: those that cannot be meant are refused with one message, those that can are run."""

import pytest
from plain_cases import FAN, STREAM, case_of, film, loop_tables, part, plate, sheet

from thermsim.case import CaseError
from thermsim.model.build import build
from thermsim.studies.run import run

HOLE = {"cutout": {"h": {"corner": "60, 10 mm", "size": "20 x 40 mm"}}}
IN_HOLE = {"corner": "62, 12 mm", "size": "10 x 10 mm"}
NOTCH = {"cutout": {"h": {"corner": "0, 10 mm", "size": "10 x 20 mm"}}}
PIPE = {"between": ["part.p", "sheet.b"], "resistance": "0.5 K/W", "capacity": "20 W"}


def board(shape: dict, **more) -> dict:
    return {"sheet": {"b": sheet() | shape}, "part": {"p": part(centre="30, 30 mm")}, "film": {"t": film()}} | more


REFUSED = {
    "film in a cutout": (
        board(HOLE, film={"t": film(), "u": film(face="bottom", **IN_HOLE)}),
        'film.u.corner: x 62 to 72, y 12 to 22 mm lies wholly in cutout "h" of sheet.b',
    ),
    "joint in a cutout": (
        board(HOLE, sheet={"b": sheet() | HOLE, "d": sheet()}, joint={
            "j": {"between": ["sheet.b", "sheet.d"], "conductance": "100 W/m2K"} | IN_HOLE,
        }),
        'joint.j.between: x 62 to 72, y 12 to 22 mm lies wholly in cutout "h" of sheet.b',
    ),
    "sheets that face a cutout": (
        board(HOLE, sheet={"b": sheet() | HOLE, "d": sheet() | IN_HOLE}, radiation={
            "r": {"between": ["sheet.b", "sheet.d"], "emissivity": [0.9, 0.9]},
        }),
        'radiation.r.between: x 62 to 72, y 12 to 22 mm lies wholly in cutout "h" of sheet.b',
    ),
    "heat pipe in a cutout": (
        board(HOLE, heat_pipe={"q": PIPE | IN_HOLE}),
        'heat_pipe.q.corner: x 62 to 72, y 12 to 22 mm lies wholly in cutout "h" of sheet.b',
    ),
    "heat pipe off its sheet": (
        board({}, heat_pipe={"q": PIPE | {"corner": "200, 0 mm", "size": "10 x 10 mm"}}),
        "heat_pipe.q.corner: x 200 to 210, y 0 to 10 mm is not inside sheet.b, x 0 to 100, y 0 to 60 mm",
    ),
    "edge along a notch": (
        board(NOTCH, edge={"e": {"on": "sheet.b", "side": "left", "stretch": "10, 30 mm", "heat": "2 W"}}),
        'edge.e.stretch: x 0 to 0.001, y 10 to 30 mm lies wholly in cutout "h" of sheet.b',
    ),
    "channel through a cutout": (
        loop_tables() | {"plate": {"c": plate(cutout={"h": {"corner": "40, 5 mm", "size": "20 x 10 mm"}})}},
        'plate.c.channel.path[2]: the channel runs through cutout "h" on its way here',
    ),
    "part called time": (
        board({}, part={"time": part()}),
        "part.time: is no usable name: the stored curves' own axis is called so",
    ),
    "options in one folder": (
        board({}, option={"hot room": {}, "hot-room": {}}),
        'option.hot-room: its results and those of option "hot room" would both go to "hot-room"; rename it',
    ),
    "option in the base case's folder": (
        board({}, option={"Base": {}}),
        'option.Base: its results and those of the base case would both go to "base"; rename it',
    ),
    "inside of a box that radiates to the room": (
        {"fan": {"f": FAN}, "airway": {"a": STREAM}, "box": {
            "corner": "0, 0 mm", "size": "100 x 60 x 40 mm", "thickness": "1 mm", "material": "copper",
            "outside": {"law": "fixed", "h": "9 W/m2K"},
            "inside": {"law": "fixed", "h": "5 W/m2K", "to": "airway.a", "emissivity": 0.9},
        }},
        "box.inside.emissivity: radiates to the room, which the inside does not see; add a [radiation.name] "
        "between facing sheets",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("tables", "message"), REFUSED.values(), ids=REFUSED)
def test_refused(tables, message):
    with pytest.raises(CaseError) as caught:
        case_of(**tables)
    assert [str(problem).removeprefix("case: ") for problem in caught.value.problems] == [message]


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        ({}, "there is nothing to work out"),
        (board({}) | {"run": {"cell": "0.001 mm"}}, "run.cell: 0.001 mm gives 100000 cells across"),
        (board({}) | {"run": {"cell": "0.02 mm"}}, "run.cell: 0.02 mm gives 15000000 cells"),
        (
            board({}, film={"t": film(), "u": film(face="bottom", corner="33.33, 20 mm", size="0.05 x 10 mm")}),
            "sheet.b: cutouts, or grid lines that were moved, leave nothing of a rectangle on it",
        ),
    ],
    ids=["empty", "far too fine", "too fine", "narrower than grid lines may be"],
)
def test_refused_when_the_grid_is_laid(tables, message):
    case = case_of(**tables)
    with pytest.raises(CaseError) as caught:
        build(case)
    assert message in str(caught.value)
    assert caught.value.exit_status == 2


def test_a_channel_may_pass_beside_a_cutout():
    case_of(**loop_tables() | {"plate": {"c": plate(cutout={"h": {"corner": "70, 20 mm", "size": "20 x 20 mm"}})}})


def test_a_mishap_within_the_first_instant(tmp_path):
    tables = board({}, fan={"f": FAN}, airway={"a": STREAM | {"draught": "1 m3/h"}}, film={"t": film(to="airway.a")})
    stop = {"mishap": {"stop": {"at": "0.02 s", "stops": ["fan.f"]}}, "option": {"o": {"mishaps": ["stop"]}}}
    summary = run(case_of(**tables | stop).with_option("o"), tmp_path).summary
    assert summary["warm_up"]["criteria"]["2 K/h"]["time_s"] is None
    assert summary["parts"]["p"]["steady_at_end_degc"] > summary["parts"]["p"]["steady_degc"] + 1


def test_a_case_without_heat_closes(tmp_path):
    summary = run(case_of(sheet={"b": sheet()}, film={"t": film()}), tmp_path).summary
    assert abs(summary["energy"]["residual_fraction"]) < 1e-4


def test_an_unreadable_unfinished_result_is_begun_anew(tmp_path):
    (tmp_path / "result.h5.part").write_bytes(b"no HDF5 file" * 100)
    assert run(case_of(**board({})), tmp_path).complete


def test_a_heat_pipe_is_judged_by_its_larger_load(tmp_path):
    tables = {
        "sheet": {"b": sheet(), "d": sheet(corner="200, 0 mm")},
        "part": {"p": part(watts={"idle": "1 W", "work": "10 W"})},
        "film": {"t": film(), "u": film(on="sheet.d", h="80 W/m2K")},
        "heat_pipe": {"q": {"between": ["part.p", "sheet.d"], "resistance": "0.3 K/W", "capacity": "10 W"}},
        "duty": {"d": {"of": "state", "points": ["0 s, idle", "300 s, work"]}},
    }
    summary = run(case_of(**tables), tmp_path).summary
    assert summary["heat_pipes"]["q"]["load_w"] > 5
    assert not summary["heat_pipes"]["q"]["carries"]

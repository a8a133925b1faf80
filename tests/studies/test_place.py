"""The search for a plate's place: as solving every position would have it, and never against a rule."""

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

sys.path.append(str(Path(__file__).parent))
from plate_box import TEXT, plate_box

from thermsim.case import CaseError
from thermsim.cli import cli
from thermsim.report.text import closing
from thermsim.studies.place import exact as place_exact
from thermsim.studies.place.answer import limits_of
from thermsim.studies.place.exact import Asked, Exactly
from thermsim.studies.place.laid import Laid
from thermsim.studies.place.pair_search import laid_pair, search_pairs
from thermsim.studies.place.scan import ranked
from thermsim.studies.place.search import Screening
from thermsim.studies.place.setup import search_of
from thermsim.studies.place.study import place

NEAR = 0.1  # K, between screening and solving again, on 5 mm cells
LINEAR = {"radiation.lid": None}
SMALL = {"place.size": "30 x 30 mm", "place.layout": "serpentine", "place.passes": 4, "place.pitch": "15 mm"}


@pytest.mark.parametrize("radiates", [False, True])
def test_every_position_as_solved_alone(radiates):
    search = search_of(plate_box({"place.rotations": False} if radiates else LINEAR))
    found = Screening(search).single()
    assert found.allowed.size >= 15
    exactly = Exactly(search, None)
    exact = [exactly.laid([Laid.by("cold", found.verdict(k), search.first.layout)]) for k in range(found.allowed.size)]
    margins = np.array([one["worst_margin_k"] for one in exact])
    parts = np.array([list(one["parts_degc"].values()) for one in exact])
    assert np.ptp(margins) > 5  # K; the place matters
    # radiation is taken with its slope at the best place: where parts are far hotter than there, they read too hot
    near = NEAR + (0.2 if radiates else 0.0) * (margins.max() - margins)
    assert np.all(np.abs(found.margins - margins) < near)
    assert np.all(np.abs(found.scan.parts - parts) < 2.5 * near[:, None])
    assert found.scan.plate_mean == pytest.approx([one["plate_mean_degc"] for one in exact], abs=NEAR)
    assert 6e4 * found.flows == pytest.approx([one["flow_l_per_min"] for one in exact], rel=0.01)
    assert found.drops / 1e3 == pytest.approx([one["drop_kpa"] for one in exact], rel=0.02)
    assert int(margins.argmax()) in found.best(3)  # which are solved again, and so the winner is the same


def test_a_state_kept_for_another_board_or_loop_is_not_taken():
    """What is told of one and the same case depends on the board that is searched, and on the loop."""
    search = search_of(plate_box(LINEAR))
    others = [replace(search, on="sheet.lid"), replace(search, loop="another")]
    asked = Asked(search.case, (search.first.plate,))
    assert len({Exactly(one, None)._piece(asked).key for one in (search, *others)}) == 3


def test_coolant_in_transition_is_told_of_the_worst_place_alone():
    search = search_of(plate_box(LINEAR))
    (told,) = limits_of({"leaders": [{"reynolds": one} for one in (1500.0, 1900.0, 3100.0, None)]}, search)
    assert (told["name"], told["where"]) == ("flow in transition", ["plate.cold"])
    assert told["text"].startswith("Reynolds number 3100: ")
    assert closing({"limits": [told], "warnings": [], "cautions": []}, 500)[0].startswith(
        "limit: flow in transition (plate.cold): Reynolds number 3100"
    )


@pytest.mark.parametrize("arrangement", ["series", "parallel"])
def test_every_pair_as_solved_alone(arrangement):
    few = {"place.second": "same", "place.rotations": False, "place.pitch": "20 mm"}
    search = search_of(plate_box({**SMALL, **LINEAR, **few}))
    screening = Screening(search)
    pairs = search_pairs(screening, screening.single(), arrangement)
    free = np.argwhere(np.isfinite(pairs.margins))
    assert len(free) == pairs.count > 15
    exactly = Exactly(search, None)
    exact = [exactly.laid(laid_pair(search, (pairs.first[i], pairs.second[j])), arrangement) for i, j in free]
    margins = np.array([one["worst_margin_k"] for one in exact])
    assert np.ptp(margins) > 3
    np.testing.assert_allclose(pairs.margins[tuple(free.T)], margins, atol=NEAR)
    assert tuple(free[margins.argmax()]) in pairs.best(3)  # which are solved again, and so the winner is the same
    # in series both plates have the pump's flow, in parallel they share it
    shares = [sum(plate["flow_l_per_min"] for plate in one["plates"].values()) / one["flow_l_per_min"] for one in exact]
    assert shares == pytest.approx([2.0 if arrangement == "series" else 1.0] * len(exact), rel=1e-6)


def test_two_unlike_plates():
    more = """
[plate.other]
corner = "70, 10 mm"
size = "40 x 30 mm"
thickness = "6 mm"
material = "aluminium 6061"
[plate.other.channel]
path = ["70, 15 mm", "105, 15 mm", "105, 35 mm", "70, 35 mm"]
width = "3 mm"
depth = "3 mm"
[joint.cool_other]
between = ["part.cool", "plate.other"]
resistance = "0.3 K/W"
"""
    path = ["hose.out", "plate.cold", "plate.other", "hose.back", "radiator.r"]
    changes = {"place.second": "plate.other", "loop.main.path": path, "place.pitch": "20 mm"}
    search = search_of(plate_box(changes, more))
    screening = Screening(search)
    found = screening.single()
    for k in found.best(2):  # the first alone, the other taken out
        exact = Exactly(search, None).laid([Laid.by("cold", found.verdict(int(k)), search.first.layout)])
        assert found.margins[k] == pytest.approx(exact["worst_margin_k"], abs=NEAR)
        assert 6e4 * found.flows[k] == pytest.approx(exact["flow_l_per_min"], rel=0.01)
    for arrangement in ("series", "parallel"):
        pairs = search_pairs(screening, found, arrangement)
        for i, j in pairs.best(2):
            exact = Exactly(search, None).laid(laid_pair(search, (pairs.first[i], pairs.second[j])), arrangement)
            assert pairs.margins[i, j] == pytest.approx(exact["worst_margin_k"], abs=3 * NEAR)


def test_a_plate_that_faces_lid_and_board():
    more = """
[radiation.plate_lid]
between = ["plate.cold", "sheet.lid"]
emissivity = [0.5, 0.8]
[joint.glue]
between = ["plate.cold", "sheet.lid"]
conductance = "20 W/m2K"
"""
    search = search_of(plate_box({"place.pitch": "20 mm", "film.plate.emissivity": 0.3}, more))
    found = Screening(search).single()
    for k in range(0, found.allowed.size, 4):
        exact = Exactly(search, None).laid([Laid.by("cold", found.verdict(k), search.first.layout)])
        assert found.margins[k] == pytest.approx(exact["worst_margin_k"], abs=2 * NEAR)


def test_no_more_factors_for_more_positions(monkeypatch):
    made = []
    real = place_exact.Settler.__init__
    monkeypatch.setattr(place_exact.Settler, "__init__", lambda self: (made.append(1), real(self))[1])
    counts = {}
    for pitch in ("15 mm", "5 mm"):
        screening = Screening(search_of(plate_box({"place.pitch": pitch})))
        found = screening.single()
        counts[found.allowed.size] = screening.box.factorisations
    few, many = counts
    assert many > 5 * few
    assert max(counts.values()) <= 4  # however many positions: the box is factored once a pass
    assert len(made) == 2  # the case as drawn, once a search; no position is settled


def test_where_a_far_part_makes_them_equal_the_plate_s_own_sheet_decides():
    margins, own = np.array([0.5, 1.0, 0.95, -3.0]), np.array([20.0, 3.0, 9.0, 30.0])
    assert ranked(margins, own).tolist() == [2, 1, 0, 3]  # 0.05 K is no difference, 0.5 K is
    assert ranked(margins, margins).tolist() == [1, 2, 0, 3]


def plain(facts):
    """Facts without the seconds they took."""
    timeless = json.loads(json.dumps(facts))
    timeless.pop("timing")
    timeless.pop("stamp", None)
    for leaders in (timeless["leaders"], *(told["leaders"] for told in timeless["pairs"].values())):
        for leader in leaders:
            del leader["exact_s"]
    for told in timeless["pairs"].values():
        del told["screening_s"]
        if told["best"]:
            told["best"].pop("exact_s")
    return timeless


def test_what_was_interrupted_goes_on(tmp_path, monkeypatch):
    case = plate_box({**SMALL, "place.second": "same"})
    whole = place(case, tmp_path / "whole")
    calls = []

    def stop(done, total):
        calls.append(done)
        if len(calls) == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        place(case, tmp_path / "cut", progress=stop)
    kept = (tmp_path / "cut" / "place.kept.jsonl").read_text().splitlines()
    solved = []
    told = place_exact.told
    monkeypatch.setattr(place_exact, "told", lambda *given: (solved.append(1), told(*given))[1])
    again = place(case, tmp_path / "cut")
    assert plain(again) == plain(whole)
    everything = (tmp_path / "whole" / "place.kept.jsonl").read_text().splitlines()
    assert len(solved) == len(everything) - len(kept)
    stored = json.loads((tmp_path / "cut" / "place.json").read_text())
    assert plain(stored) == plain(whole)


def test_what_is_told(tmp_path):
    facts = place(plate_box({"place.second": "same"}), tmp_path)
    assert 1 <= len(facts["answer"]) <= 5
    assert any("not an approval" in caution for caution in facts["cautions"])
    counts = facts["counts"]
    assert counts["positions"] == len(facts["positions"]) == 8 * 6 + 9 * 5
    assert counts["allowed"] == sum(one["allowed"] for one in facts["positions"])
    assert all(one["why"] for one in facts["positions"] if not one["allowed"])
    leaders = facts["leaders"]
    assert [one["rank"] for one in leaders] == [1, 2, 3]
    best = facts["positions"][leaders[0]["position"]]
    assert (best["x_mm"], best["y_mm"]) == (leaders[0]["x_mm"], leaders[0]["y_mm"])
    assert best["worst_margin_k"] == pytest.approx(leaders[0]["exact_worst_margin_k"], abs=NEAR)
    assert leaders[0]["exact_worst_margin_k"] >= facts["now"]["worst_margin_k"] - NEAR  # as drawn is one of them
    assert facts["without"]["worst_margin_k"] < facts["now"]["worst_margin_k"]
    names = [one["name"] for one in facts["layouts"]]
    assert names == ["as drawn", "serpentine", "parallel", "spiral"]
    drops = {one["name"]: one["drop_kpa"] for one in facts["layouts"]}
    assert drops["parallel"] < 0.2 * drops["serpentine"]


def test_governors_are_held_where_they_settle_as_drawn(tmp_path):
    governor = """
[governor.g]
sensor = "part.warm"
drives = ["pump.p"]
law = "hold"
set_point = "62 degC"
gain = "4 %/K"
reset = "60 s"
min_speed = "20 %"
"""
    case = plate_box({"place.pitch": "20 mm"}, governor)
    search = search_of(case)
    assert not search.spec.governor
    assert search.spec.pump["p"].speed == pytest.approx(search.now.speeds["pump.p"], abs=1e-6)
    facts = place(case, tmp_path)
    assert facts["governors_frozen"] == search.now.speeds
    assert any("governors are held" in warning for warning in facts["warnings"])
    assert facts["leaders"][0]["screening_error_k"] == pytest.approx(0, abs=NEAR)


def test_a_mishap_is_no_option_to_search():
    mishap = '[mishap.stop]\nat = "5 min"\nstops = ["pump.p"]\n[option.stopped]\nmishaps = ["stop"]\n'
    with pytest.raises(CaseError, match='option "stopped" is a mishap'):
        search_of(plate_box({"place.option": "stopped"}, mishap))


BROKEN = [
    ({"place.pitch": "0 mm"}, "place.pitch: must be above 0"),
    ({"place.plate": "plate.colt"}, 'there is no plate "colt"; did you mean "plate.cold"?'),
    ({"place.option": "hybrit"}, 'unknown option "hybrit"'),
    ({"place.second": "plate.cold"}, 'must be "same" or another plate'),
    ({"place.on": "sheet.bord"}, 'there is no sheet "bord"; did you mean "sheet.board"?'),
    ({"place.arrangement": ["series", "paralel"]}, 'must be "series" or "parallel"'),
    ({"place.size": "30 x 30 mm"}, "a plate of another size needs a layout"),
    ({**SMALL, "place.passes": 20}, "20 passes of 3 mm leave less than 1.5 mm of wall"),
    ({**SMALL, "place.size": "150 x 30 mm"}, "a plate of 150 x 30 mm does not fit the region"),
    ({"place.hose.exits": []}, "names no exit"),
    ({"place.pitch": "0.1 mm"}, "positions, more than 50,000"),
    ({"place.pad.thickness_min": "2 mm"}, "is above thickness_max, 1.5 mm"),
    ({"place.least_overlap": "120 %"}, "must be at most 100 %"),
    ({"part.small.height": None, "part.cool.height": None}, "height missing; the search needs it"),
    ({"place.hose.exits": ["lefft"]}, "expected one of left, right, front, back, or a point of the wall"),
    ({"airway.r.inlet": "airway.main"}, "must have air of its own"),
    ({"loop.main.path": ["hose.out", "hose.back", "radiator.r"]}, "no loop of the option leads through plate.cold"),
    ({"place": None}, "there is no [place] to search by"),
]


@pytest.mark.parametrize(("changes", "message"), BROKEN, ids=[message for _, message in BROKEN])
def test_bad_settings_are_told_plainly(changes, message):
    with pytest.raises(CaseError) as error:
        search_of(plate_box(changes))
    assert message in str(error.value)


def test_missing_heights_are_asked_for_by_name_and_line():
    with pytest.raises(CaseError) as error:
        search_of(plate_box({"part.small.height": None}))
    line = TEXT.splitlines().index("[part.small]") + 1
    assert str(error.value) == (
        f'plates.toml:{line}: part.small: height missing; the search needs it, for example height = "2 mm"'
    )


def test_nothing_allowed_is_an_answer(tmp_path):
    everywhere = '[keep_out.all]\ncorner = "0, 0 mm"\nsize = "120 x 90 mm"\n'
    facts = place(plate_box({}, everywhere), tmp_path)
    assert len(facts["answer"]) == 1
    assert facts["answer"][0].startswith("No position is allowed: keep-out all (93)")
    assert not facts["leaders"]


def test_the_command(tmp_path):
    file = tmp_path / "case.toml"
    file.write_text(TEXT)
    out = tmp_path / "out"
    shown = CliRunner().invoke(cli, ["place", str(file), "--pitch", "20 mm", "-o", str(out)])
    assert shown.exit_code == 0, shown.output
    assert "Best place for one plate of 50 x 40 mm" in shown.output
    names = {path.name for path in out.glob("place*")}
    maps = {f"place-{name}.{kind}" for name in ("allowed", "margin", "winners") for kind in ("png", "svg")}
    assert names == {"place.json", "place.kept.jsonl", *maps}
    told = CliRunner().invoke(cli, ["place", str(file), "--pitch", "20 mm", "-o", str(out), "--no-figures", "--json"])
    assert json.loads(told.output)["pitch_mm"] == 20.0

"""One basis for many cases: told as well as the full engine tells them, judged by itself, and kept safely on disk."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from small_box import small_box

from thermsim.model.build import build, rebuild
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.adjoint import heat_at
from thermsim.solve.reduced import shelf
from thermsim.solve.reduced.family import Family
from thermsim.solve.reduced.grow import NotReduced
from thermsim.solve.transient import Transient
from thermsim.studies.settled import Settler

FINER = 20  # of the reference's tolerance
BASE = small_box()
CORNERS = [
    {"part.chip.watts": "2 W", "film.top.h": "50 W/m2K"},
    {"part.chip.watts": "5 W", "film.top.h": "30 W/m2K"},
    {"room.temperature": "30 degC", "part.chip.to_board": "2 K/W"},
    {"room.temperature": "15 degC", "part.chip.to_board": "0.8 K/W", "part.chip.watts": "5 W"},
]
BETWEEN = [
    {"part.chip.watts": "4.1 W", "film.top.h": "37 W/m2K"},
    {"room.temperature": "26 degC", "part.chip.to_board": "1.4 K/W"},
    {"room.temperature": "18 degC", "part.chip.heat_capacity": "7 J/K", "airway.main.resistance": "0.13 Pa/(m3/h)2"},
    {"part.chip.watts": "3.3 W", "governor.g.set_point": "43 degC"},
]


@pytest.fixture(scope="module")
def examples():
    return [BASE, *(BASE.with_changes(corner) for corner in CORNERS)]


@pytest.fixture(scope="module")
def family(examples):
    with collect_ranges():
        return Family.grow(examples)


def missed(found, case, tolerance: float) -> float:
    """How far a history is from that of the full engine at a tolerance twenty times finer, K."""
    worst, ends = 0.0, np.array([step.last.time for step in found.steps])
    for step in Transient.of(build(case), tolerance / FINER).steps(case.spec.run.duration):
        mine = found.steps[min(int(np.searchsorted(ends, step.last.time)), len(ends) - 1)]
        if step.last.time > 0.1:
            worst = max(worst, np.abs(found.image.field(mine.at(step.last.time)) - step.last.x).max())
    return worst


@pytest.mark.parametrize("changes", BETWEEN)
def test_a_case_between_the_examples_needs_no_factor(family, changes):
    case = BASE.with_changes(changes)
    found = family.history(case)
    assert found is not None
    assert (found.factorisations, found.solves) == (0, 0)
    assert missed(found, case, family.tolerance) < found.indicator + family.tolerance


def test_a_case_far_away_is_not_told(family):
    # only a basis of one chip's heat: another part's is not in it
    with collect_ranges():
        alone = Family.grow([BASE])
    hot_corner = BASE.with_changes({"film.top.h": "400 W/m2K", "part.chip.to_board": "0.05 K/W"})
    assert alone.history(hot_corner) is None


def test_a_family_learns_from_one_more_example(examples):
    with collect_ranges():
        two = Family.grow(examples[:2])
        three = two.extended(examples[2])
        together = Family.grow(examples[:3])
    assert three.newest.indicator <= three.tolerance  # the history of the example itself, as it was grown
    assert missed(three.newest, examples[2], three.tolerance) < three.newest.indicator + three.tolerance
    for family in (three, together):
        found = family.history(examples[2])
        # steps add their own error, each within the tolerance
        assert missed(found, examples[2], family.tolerance) < found.indicator + 2 * family.tolerance
        assert family.history(examples[0]) is not None  # what it knew before
    assert three.basis.size == together.basis.size
    with pytest.raises(NotReduced, match="other sheets"):
        two.extended(BASE.with_changes({"run.cell": "5 mm"}))


# what a trade study changes: an inlet, joints, films, watts, what sets the flow, the board's copper
TRIALS = [
    {"airway.main.inlet": "16 degC"},
    {"part.chip.to_board": "1.3 K/W"},
    {"film.top.h": "45 W/m2K"},
    {"part.chip.watts": "3.6 W"},
    {"fan.f.curve": ["0 m3/h, 27 Pa", "20 m3/h, 0 Pa"]},
    {"airway.main.resistance": "0.12 Pa/(m3/h)2"},
    {"sheet.board.conductivity": "24 W/mK"},
]
TRIALS.append({address: value for trial in TRIALS for address, value in trial.items()})


def test_every_trial_is_told_by_one_family():
    # grown over the box and one colder inlet, with the heat each trial brings
    settled = Settler().settle(BASE)
    at_rest = settled.steady
    loads = []
    for trial in TRIALS[:-1]:
        model = rebuild(settled.model, BASE.with_changes(trial))
        before, after = (
            heat_at(one, at_rest.temperature, at_rest.speeds, at_rest.time) for one in (settled.model, model)
        )
        loads.append(after - before)
    with collect_ranges():
        found = Family.grow([BASE, BASE.with_changes({"airway.main.inlet": "14 degC"})], None, loads)
        bare = Family.grow([BASE])
        for trial in TRIALS:
            told = found.history(BASE.with_changes(trial))
            assert told is not None, trial
            # steps add their own error, each within the tolerance
            assert missed(told, BASE.with_changes(trial), found.tolerance) < told.indicator + 2 * found.tolerance
        assert any(bare.history(BASE.with_changes(trial)) is None for trial in TRIALS)


def test_a_case_of_other_sheets_is_not_of_the_family(family):
    assert family.history(BASE.with_changes({"run.cell": "5 mm"})) is None
    assert family.history(BASE.with_changes({"sheet.board.size": "100 x 50 mm"})) is None


def test_heat_is_kept_in_another_case_too(family):
    found = family.history(BASE.with_changes(BETWEEN[2]))
    supplied, rejected, stored = (
        sum(getattr(step, name) for step in found.steps) for name in ("supplied", "rejected", "stored")
    )
    assert supplied - rejected - stored == pytest.approx(0, abs=1e-4 * supplied)


def test_a_family_from_the_shelf_tells_the_same(examples, tmp_path):
    case = BASE.with_changes(BETWEEN[0])
    with collect_ranges():
        first, again = (shelf.family_of(examples, tmp_path) for _ in range(2))
    assert first.factorisations > 0
    assert again.factorisations == 0
    assert len(list(tmp_path.iterdir())) == 1
    one, other = first.history(case), again.history(case)
    assert one.image.field(one.steps[-1].last.x) == pytest.approx(other.image.field(other.steps[-1].last.x), abs=1e-6)


def flipped(content: bytes) -> bytes:
    """One bit in the middle, where the numbers are."""
    middle = len(content) // 2
    return content[:middle] + bytes([content[middle] ^ 16]) + content[middle + 1 :]


@pytest.mark.parametrize("spoil", [flipped, lambda content: content[: len(content) // 3], lambda _: b"not a basis"])
def test_a_spoiled_file_is_not_believed_and_made_anew(examples, tmp_path, spoil):
    with collect_ranges():
        shelf.family_of(examples[:2], tmp_path)
        (path,) = tmp_path.iterdir()
        whole = path.read_bytes()
        path.write_bytes(spoil(whole))
        again = shelf.family_of(examples[:2], tmp_path)
        assert again.factorisations > 0
        assert shelf.family_of(examples[:2], tmp_path).factorisations == 0


def test_two_writers_leave_one_whole_file(examples, tmp_path):
    def grown(_):
        with collect_ranges():
            return shelf.family_of(examples[:2], tmp_path)

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(grown, range(2)))
    assert len(list(tmp_path.iterdir())) == 1
    with collect_ranges():
        assert shelf.family_of(examples[:2], tmp_path).factorisations == 0


def test_other_cases_or_another_tolerance_are_kept_apart(examples):
    keys = {shelf.key_of(examples, 0.02), shelf.key_of(examples[:2], 0.02), shelf.key_of(examples, 0.01)}
    assert len(keys) == 3

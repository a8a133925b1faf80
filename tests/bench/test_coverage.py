"""Do the stated 95 % intervals hold the truth in 95 % of a thousand simulated benches? From logs to intervals.

Three runs each, or three and two, of a box that settles as two exponentials; what runs differ by is drawn anew for
each. Every other part is the same after as before. JCGM 100, G.1.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from simulated import Noise, simulated

from thermsim.bench.paired.changes import Change, changes
from thermsim.bench.paired.record import Record, record_of
from thermsim.case.benching import Bench

PARTS, SETS = 20, 50
RISE, CHANGE = 30.0, -5.0  # K
SCATTER = 0.1  # K from run to run, known to a quarter, that is with 8 degrees of freedom
COUNTS = {75.0: (3, 3), 25.0: (3, 2)}  # runs before and after, by how many minutes they take
TRUTH = np.where(np.arange(PARTS) % 2, CHANGE, 0.0)
SETTINGS = Bench.model_validate({"repeatability": f"{SCATTER} K"})
STANDS = ("before", "after")
Stands = tuple[list[Record], list[Record]]


@cache
def benches(minutes: float) -> tuple[Stands, ...]:
    """Runs before and after; half of the sets with a room that drifts, half with noise that wanders."""
    rng, found = np.random.default_rng(11), []
    for number in range(SETS):
        spread = SCATTER * np.sqrt(8.0 / rng.chisquare(8.0, PARTS))
        noise: Noise = "wandering" if number % 2 else "white"
        before, after = (
            [_run(rng, stands, ends + rng.normal(0.0, spread), minutes, noise) for _ in range(count)]
            for stands, ends, count in zip(STANDS, (RISE + 0 * TRUTH, RISE + TRUTH), COUNTS[minutes], strict=True)
        )
        found.append((before, after))
    return tuple(found)


def _run(rng: np.random.Generator, stands: str, ends: np.ndarray, minutes: float, noise: Noise) -> Record:
    log = simulated(rng, ends, minutes, noise, drifts=noise == "white", step=20.0)
    return record_of(stands, stands, None, log, window=600.0)


def told(minutes: float, runs: int = 3) -> list[list[Change]]:
    """What is told of each set from its first so many runs."""
    found = [changes(before[:runs], after[:runs], SETTINGS) for before, after in benches(minutes)]
    assert all(len(one) == PARTS for one in found)
    return found


def covered(found: list[list[Change]]) -> float:
    """Share of the intervals that hold the truth."""
    inside = [
        abs(one.measured.value - truth) <= one.half_width
        for some in found for one, truth in zip(some, TRUTH, strict=True)
    ]  # fmt: skip
    return float(np.mean(inside))


@pytest.mark.slow
@pytest.mark.parametrize(("minutes", "extrapolated"), [(75.0, False), (25.0, True)], ids=["long runs", "short runs"])
def test_intervals_hold_the_truth(minutes: float, extrapolated: bool) -> None:
    """Short runs end 5 % before the end value, so that all lean on their curves."""
    found = told(minutes)
    assert 0.93 <= covered(found) <= 0.975
    for noise in (0, 1):
        assert 0.92 <= covered(found[noise::2]) <= 0.985
    if extrapolated:
        assert all(end.extrapolated for some in found for one in some for end in one.before.ends)
    errors = np.array([[one.measured.value for one in some] for some in found]) - TRUTH
    assert np.abs(errors.mean(axis=0)).max() < 0.1
    assert abs(errors.mean()) < 0.02
    assert np.median([one.half_width for some in found for one in some]) < 0.4


@pytest.mark.slow
def test_no_change_is_seldom_called_one() -> None:
    """Five in a hundred, for that is what 95 % leaves; what changed is found."""
    verdicts = np.array([[one.verdict for one in some] for minutes in (75.0, 25.0) for some in told(minutes)])
    assert 0.025 <= np.mean(verdicts[:, TRUTH == 0] != "not told") <= 0.07
    assert np.mean(verdicts[:, TRUTH != 0] == "lower") > 0.99


@pytest.mark.slow
@pytest.mark.parametrize(("minutes", "most"), [(75.0, 0.98), (25.0, 1.0)])
def test_single_runs_rest_on_what_is_assumed(minutes: float, most: float) -> None:
    """One run each: the assumed scatter from run to run with what lies within the runs, their drift above all.

    Short ones are extrapolated, and allow for more time constants than these curves have; that costs some width.
    """
    found = told(minutes, runs=1)
    assert 0.93 <= covered(found) <= most
    needed = 1.96 * np.std(np.array([[one.measured.value for one in some] for some in found]) - TRUTH)
    assert np.median([one.half_width for some in found for one in some]) < 1.5 * needed


@pytest.mark.slow
def test_two_runs_each_are_few_but_honest() -> None:
    assert 0.93 <= covered(told(75.0, runs=2)) <= 0.985

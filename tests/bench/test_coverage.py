"""Do the stated 95 % intervals hold the truth in 95 % of a thousand simulated benches? From logs to intervals.

Three runs each of a box that settles as two exponentials; what runs differ by is drawn anew for each. JCGM 100, G.1.
"""

from __future__ import annotations

import numpy as np
import pytest
from simulated import Noise, simulated

from thermsim.bench.paired.changes import Change, changes
from thermsim.bench.paired.record import Record, record_of
from thermsim.case.benching import Bench

PARTS, SETS = 50, 20
RISE = 30.0  # K


def benches(
    seed: int, change: float, minutes: float, noise: Noise, drifts: bool, runs: int = 3, scatter: float = 0.1,
    guessed: bool = False,
) -> list[Change]:  # fmt: skip
    """A thousand changes; `scatter`: K from run to run; `guessed`: drawn about what is assumed of single runs."""
    rng = np.random.default_rng(seed)
    found: list[Change] = []
    settings = Bench.model_validate({"repeatability": f"{scatter} K"})
    for _ in range(SETS):
        # known to a quarter, that is with 8 degrees of freedom
        spread = scatter * np.sqrt(8.0 / rng.chisquare(8.0, PARTS)) if guessed else np.full(PARTS, scatter)
        stands = [
            [_run(rng, stands, mean + rng.normal(0.0, spread), minutes, noise, drifts) for _ in range(runs)]
            for stands, mean in (("before", RISE), ("after", RISE + change))
        ]
        found += changes(*stands, settings)
    assert len(found) == PARTS * SETS
    return found


def _run(rng: np.random.Generator, stands: str, ends: np.ndarray, minutes: float, noise: Noise, drifts: bool) -> Record:
    return record_of(stands, stands, None, simulated(rng, ends, minutes, noise, drifts, step=20.0), window=600.0)


def covered(found: list[Change], change: float) -> float:
    """Share of the intervals that hold the truth."""
    return float(np.mean([abs(one.measured.value - change) <= one.half_width for one in found]))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("minutes", "noise", "drifts", "curved"),
    [
        (75.0, "white", False, False),
        (75.0, "white", True, False),
        (75.0, "wandering", False, False),
        (25.0, "white", False, True),
    ],
    ids=["white noise", "a room that drifts", "noise that wanders", "short runs"],
)
def test_intervals_hold_the_truth(minutes: float, noise: Noise, drifts: bool, curved: bool) -> None:
    """Short runs end 5 % before the end value, so that all are extrapolated; the long ones are not."""
    found = benches(11, -5.0, minutes, noise, drifts)
    assert 0.93 <= covered(found, -5.0) <= 0.97
    if curved:
        assert all(end.extrapolated for one in found for end in one.before.ends)
    assert abs(np.mean([one.measured.value for one in found]) + 5.0) < 0.02
    assert np.median([one.half_width for one in found]) < 0.3


@pytest.mark.slow
def test_no_change_is_seldom_called_one() -> None:
    """Five in a hundred, for that is what 95 % leaves."""
    found = benches(12, 0.0, 75.0, "white", drifts=True)
    called = np.mean([one.verdict != "not told" for one in found])
    assert 0.035 <= called <= 0.065


@pytest.mark.slow
def test_single_runs_rest_on_what_is_assumed() -> None:
    """One short run each: the assumed scatter from run to run, known to a quarter, with what lies within the runs."""
    found = benches(13, -5.0, 25.0, "wandering", drifts=True, runs=1, scatter=0.2, guessed=True)
    assert 0.93 <= covered(found, -5.0) <= 0.97

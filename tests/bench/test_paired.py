"""Ends, repeats and changes of runs that are known by construction."""

from __future__ import annotations

from dataclasses import replace
from math import exp, sqrt
from pathlib import Path

import numpy as np
import pytest

from thermsim.bench.logs.log import Log
from thermsim.bench.paired.changes import changes, together
from thermsim.bench.paired.comparable import doubts
from thermsim.bench.paired.ends import End, end_of
from thermsim.bench.paired.record import Record, followed, of_same_watts, record_of
from thermsim.bench.paired.repeats import Repeats, difference
from thermsim.bench.paired.warming import warmed
from thermsim.bench.uncertainty import Component
from thermsim.case.benching import Bench
from thermsim.model.arrays import Floats
from thermsim.physics.touch import touch_limit

TIME = np.arange(0.0, 3601.0, 15.0)


def log(
    room: Floats | float = 22.0, texts: dict | None = None, probes: Floats | None = None, **readings: Floats
) -> Log:
    """An hour's log; channels with an underscore for the dot."""
    given = {name.replace("_", ".", 1): values for name, values in readings.items()}
    return Log("run", Path("run.csv"), TIME, {**given, "room": TIME * 0 + room}, texts or {}, None, room_probes=probes)


def settled(degc: float, seed: int = 0, noise: float = 0.02) -> Floats:
    """Warm within 10 minutes, from 22 °C."""
    return 22.0 + (degc - 22.0) * (1 - np.exp(-TIME / 120.0)) + np.random.default_rng(seed).normal(0, noise, TIME.size)


def runs(stands: str, *ends: float, **more: Floats | float) -> list[Record]:
    """Runs of part a that end so many °C hot."""
    return [
        record_of(f"{stands} {k + 1}", stands, None, log(part_a=settled(end, k), **more), 600.0)
        for k, end in enumerate(ends)
    ]


def bench(**more: object) -> Bench:
    """Settings."""
    return Bench.model_validate(more)


def test_a_steady_end_is_the_mean_of_its_last_minutes() -> None:
    end = end_of(TIME, settled(60.0) - 22.0, 600.0)
    assert end is not None
    assert not end.extrapolated
    assert end.value == pytest.approx(38.0, abs=3 * end.u)
    assert end.u == pytest.approx(0.02 / sqrt(40), rel=0.5)


def test_a_short_record_is_told_by_its_curve() -> None:
    """One exponential of 40 K, 1800 s: after an hour 40 e^−2 = 5.4 K are still to come."""
    end = end_of(TIME, 40.0 * (1 - np.exp(-TIME / 1800.0)) + np.random.default_rng(1).normal(0, 0.02, TIME.size), 600.0)
    assert end is not None
    assert end.extrapolated
    assert end.value == pytest.approx(40.0, abs=4 * end.u)
    assert end.to_come == pytest.approx(40.0 * exp(-3300.0 / 1800.0), rel=0.02)
    assert 3600 * end.tail.slope == pytest.approx(40.0 / 1800.0 * exp(-3000.0 / 1800.0) * 3600.0, rel=0.03)


def test_no_end_from_too_few_readings() -> None:
    values = settled(60.0)
    values[-50:] = np.nan
    record = record_of("run", "before", None, log(part_a=values, part_b=settled(50.0)), 600.0)
    assert record.end("part.a") is None
    assert record.end("part.b") is not None
    assert end_of(TIME[:2], values[:2], 600.0) is None


def test_difference_of_repeats_is_students() -> None:
    """Three and three by the book: pooled deviation, four degrees of freedom, t = 2.776 (two-sample t test)."""
    found = changes(runs("before", 60.0, 60.3, 59.7), runs("after", 50.0, 50.3, 49.7), bench())[0]
    assert found.measured.value == pytest.approx(-10.0, abs=0.02)
    assert found.measured.freedom == pytest.approx(4.0, abs=0.02)
    assert found.half_width == pytest.approx(2.776 * 0.3 * sqrt(2 / 3), rel=0.03)
    assert found.verdict == "lower"
    assert found.facts()["unit"] == "K"


def test_unlike_scatter_is_not_pooled() -> None:
    """B. L. Welch (1947): the stand that scatters alone has n − 1 = 3 degrees of freedom."""
    before, after = runs("before", 60.0, 62.0, 58.0, 60.0), runs("after", 50.0, 50.01, 49.99, 50.0)
    assert changes(before, after, bench())[0].measured.freedom == pytest.approx(3.0, abs=0.05)


def test_pairs_take_out_what_both_share() -> None:
    """Rooms or watts that go up and down from pair to pair cancel in pairs (paired t test), not otherwise."""
    before, after = runs("before", 60.0, 61.0, 59.0), runs("after", 55.1, 56.0, 53.9)
    unpaired, paired = (changes(before, after, bench(paired=way))[0] for way in (False, True))
    assert paired.measured.value == pytest.approx(unpaired.measured.value, abs=1e-9)
    assert paired.measured.freedom == pytest.approx(2.0, abs=0.01)
    assert paired.measured.u == pytest.approx(0.1 / sqrt(3), rel=0.15)
    assert unpaired.measured.u > 5 * paired.measured.u


def test_a_pair_of_which_one_run_fell_silent_is_left_out() -> None:
    """The second run before tells no end: its partner after is not set against another run's."""
    before, after = runs("before", 60.0, 61.0, 59.0), runs("after", 55.0, 56.2, 53.9)
    before[1].log.readings["part.a"][-60:] = np.nan  # type: ignore[index]
    change = changes(before, after, bench(paired=True))[0]
    assert (change.before.count, change.after.count) == (2, 2)
    assert change.measured.value == pytest.approx((55.0 - 60.0 + 53.9 - 59.0) / 2, abs=0.02)


def test_single_runs_rest_on_the_assumed_scatter() -> None:
    found = changes(runs("before", 60.0), runs("after", 59.5), bench(repeatability="0.2 K"))[0]
    assert found.measured.u == pytest.approx(0.2 * sqrt(2), rel=0.02)
    assert found.measured.freedom == pytest.approx(8.0, rel=0.05)
    assert found.verdict == "not told"


def test_calibration_cancels_unless_the_probe_was_moved() -> None:
    """JCGM 100, 5.2.2: u² = u² + u² − 2r u u with r = 1 in place, 0 when moved."""
    before, after = runs("before", 60.0, 60.1, 59.9), runs("after", 50.0, 50.1, 49.9)
    kept, moved = (
        changes(before, after, bench(moved=names, calibration="0.3 K"))[0].measured for names in ([], ["part.a"])
    )
    assert moved.u**2 - kept.u**2 == pytest.approx(2 * 0.3**2)
    assert [one.source for one in moved.components if "moved" in one.source]


def test_a_room_that_lies_otherwise_widens_the_interval() -> None:
    """Three room probes of which one is 0.9 K warmer after, in every run: √(0.27 + …) K by their scatter."""
    even = np.zeros((3, TIME.size)) + 22.0
    leaning = even + np.array([[0.0], [0.0], [0.9]])
    before = runs("before", 60.0, 60.1, 59.9, probes=even)
    same, other = (runs("after", 50.0, 50.1, 49.9, probes=rooms) for rooms in (even, leaning))
    alike, apart = (changes(before, after, bench())[0].measured for after in (same, other))
    # deviations from their mean −0.3, −0.3, 0.6: variance 0.27, of the mean of three 0.09
    assert apart.u**2 - alike.u**2 == pytest.approx(0.09, rel=1e-6)


def test_without_a_room_the_room_is_a_component() -> None:
    before, after = runs("before", 60.0, 60.1), runs("after", 50.0, 50.1)
    bare = [
        replace(one, log=replace(one.log, readings={"part.a": one.log.readings["part.a"]}), _ends={}) for one in after
    ]
    change = changes(before, bare, bench())[0].measured
    assert [one.u for one in change.components if one.source == "room not logged"] == [pytest.approx(0.5 * sqrt(2 / 3))]


def test_rises_are_scaled_to_the_same_watts() -> None:
    """A box that takes 10 % more watts rises 10 % more; scaled, nothing changed."""
    before = runs("before", 62.0, 62.1, 61.9, supply_watts=TIME * 0 + 40.0)
    after = runs("after", 66.0, 66.1, 65.9, supply_watts=TIME * 0 + 44.0)
    assert changes(before, after, bench())[0].measured.value == pytest.approx(4.0, abs=0.05)
    scaled = of_same_watts([*before, *after])
    assert changes(scaled[:3], scaled[3:], bench())[0].measured.value == pytest.approx(0.0, abs=0.05)


def test_curves_whose_shape_is_in_doubt() -> None:
    """Repeats that agree to a hundredth, of curves that state half a kelvin, share an error no repeat shows."""
    end = end_of(TIME, 40.0 * (1 - np.exp(-TIME / 3000.0)), 600.0)
    assert end is not None
    ends = [
        replace(end, value=end.value + by, within=(Component("curve to the end", 0.5, 30.0),), extrapolated=True)
        for by in (-0.01, 0.0, 0.01)
    ]
    found = difference(Repeats(tuple(ends)), Repeats(tuple(ends)), 0.2)
    assert found.u == pytest.approx(sqrt(2) * 0.5, rel=0.01)


@pytest.mark.parametrize(("counts", "scatters"), [((3, 3), (0.1, 0.5)), ((3, 2), (0.1, 0.3)), ((3, 5), (0.3, 0.1))])
def test_stands_that_scatter_unlike(counts: tuple[int, int], scatters: tuple[float, float]) -> None:
    """Pooled, intervals would hold the truth in 91, 87 and 86 of a hundred simulated cases, not in 93."""
    rng, inside = np.random.default_rng(4), 0
    for _ in range(4000):
        before, after = (
            Repeats(tuple(End(v, (), v, False, None, None) for v in rng.normal(0.0, scatter, count)))  # type: ignore[arg-type]
            for count, scatter in zip(counts, scatters, strict=True)
        )
        found = difference(before, after, 0.2)
        inside += abs(found.value) <= found.half_width()
    assert 0.925 <= inside / 4000 <= 0.97


def test_what_the_last_digit_hides() -> None:
    """Read to 1 K without noise, 0.3 K is hidden in all repeats alike; JCGM 100, F.2.2.1: 1 K/√12 each."""
    before, after = (
        [record_of("run", stands, None, log(part_a=np.round(settled(end, 0, 0.0))), 600.0) for _ in range(3)]
        for stands, end in (("before", 60.3), ("after", 60.6))
    )
    one = changes(before, after, bench())[0]
    assert one.measured.value == pytest.approx(1.0, abs=0.1)
    assert one.measured.u == pytest.approx(sqrt(2 / 12), rel=0.05)
    fine = changes(runs("before", 60.0, 60.1), runs("after", 50.0, 50.1), bench())[0]
    assert not [part for part in fine.measured.components if "digit" in part.source]


def test_a_room_that_drifts_is_followed_late() -> None:
    """A box of one time constant, 300 s, in a room that warms by 1.2 K/h is 0.1 K behind; half is put back."""
    ramp = 22.0 + 1.2 * TIME / 3600.0
    behind = 0.1 * (1 - np.exp(-TIME / 300.0))
    hot = ramp - behind + 38.0 * (1 - np.exp(-TIME / 300.0)) + np.random.default_rng(0).normal(0, 0.01, TIME.size)
    moved = record_of("run", "after", None, log(room=ramp, part_a=hot), 600.0)
    end = moved.end("part.a")
    assert end is not None
    assert end.late == pytest.approx(0.05, abs=0.015)
    assert end.value == pytest.approx(38.0 - 0.05, abs=0.02)
    # the warm-up is that of the trace as it was read: 37.9 K (1 − e^(−t/300)) within 0.1 K
    warm = warmed(moved, 0.1)["channels"]["part.a"]["time_s"]
    assert warm == pytest.approx(300.0 * np.log(379.0), abs=90.0)
    still = runs("before", 60.0)
    parts = {part.source: part.u for part in changes(still, [moved], bench())[0].measured.components}
    assert parts["room drift that the box follows late"] == pytest.approx(end.late / sqrt(3), rel=0.1)


def test_rooms_of_unlike_temperature() -> None:
    """Radiation alone, 4 σ T³: 3 K/T by K; half of the heat by it makes 0.5 % of 38 K by K of room, evenly spread."""
    before = runs("before", 60.0, 60.1, 59.9)
    warmer = [record_of("run", "after", None, log(room=24.0, part_a=settled(60.0, k) + 2.0), 600.0) for k in range(3)]
    parts = {part.source: part.u for part in changes(before, warmer, bench())[0].measured.components}
    assert parts["rooms of unlike temperature"] == pytest.approx(0.005 * 2.0 * 38.0 / sqrt(3), rel=0.01)


def test_scaled_rises_are_less_sure_and_limits_are_as_they_were() -> None:
    """Still air, Nu ~ Ra^¼: rises go with watts to 0.8, so that scaling 38 K by 10 % may be off by 0.7 K."""
    records = [*runs("before", 60.0, supply_watts=TIME * 0 + 40.0), *runs("after", 60.0, supply_watts=TIME * 0 + 44.0)]
    scaled = of_same_watts(records)
    found = changes(scaled[:1], scaled[1:], bench())[0]
    parts = {part.source: part.u for part in found.measured.components}
    assert parts["rises scaled by watts"] == pytest.approx(0.2 * np.log(1.1) * 39.9 / sqrt(3), rel=0.01)
    for one in scaled:
        assert one.own_rise("part.a") == pytest.approx(38.0, abs=0.02)


def test_single_readings_of_noise_and_flow_do_repeat_only_so_well() -> None:
    """One run each: half a decibel and one in a hundred from run to run (common practice, no source)."""
    before, after = (
        record_of(stands, stands, None, log(noise=TIME * 0 + level, loop_main_flow=TIME * 0 + 1e-5), 600.0)
        for stands, level in (("before", 41.2), ("after", 40.4))
    )
    found = {change.channel: change for change in changes([before], [after], bench())}
    assert found["noise"].measured.u == pytest.approx(0.5 * sqrt(2))
    assert found["noise"].verdict == "not told"


def test_many_parts_and_chance() -> None:
    """Of 20 parts one may come out by chance: its chance times the number of parts (Holm)."""
    readings = {f"part_p{k}": settled(60.0, 7 * k) for k in range(20)}
    stands = [
        [record_of("run", stands, None, log(**{n: v + (0.25 * up if n == "part_p3" else 0) + 0.1 * k
                                               for n, v in readings.items()}), 600.0)
         for k in (-1, 0, 1)]
        for stands, up in (("before", 0), ("after", 1))
    ]  # fmt: skip
    found = changes(*stands, bench())
    one = next(change for change in found if change.channel == "part.p3")
    assert one.measured.chance < 0.05 < together(found)["part.p3"]
    assert together(found)["part.p3"] == pytest.approx(20 * one.measured.chance)


def test_noise_is_less_its_background() -> None:
    """ISO 3744: 10 dB over the background K1 = 0.458 dB; under 6 dB the 1.256 dB of 6 dB."""
    for over, k1 in ((10.0, 0.458), (4.0, 1.256)):
        record = record_of(
            "run", "before", None,
            log(part_a=settled(60.0), noise=TIME * 0 + 30.0 + over, noise_background=TIME * 0 + 30.0), 600.0,
        )  # fmt: skip
        end = record.end("noise")
        assert end is not None
        assert end.value == pytest.approx(30.0 + over - k1, abs=1e-3)


def test_told_from_the_last_change_of_state_on() -> None:
    values = np.where(TIME < 1800.0, settled(40.0), 60.0 - 20.0 * np.exp(-(TIME - 1800.0) / 120.0))
    record = record_of(
        "run", "before", None, log(part_a=values, texts={"state": ((0.0, "idle"), (1800.0, "work"))}), 600.0
    )
    end = record.end("part.a")
    assert end is not None
    assert end.value == pytest.approx(38.0, abs=0.02)
    assert warmed(record, 0.5)["channels"]["part.a"]["time_s"] == pytest.approx(120.0 * np.log(40.0), abs=20.0)
    assert record.state == "work"


def test_warm_up_has_bounds() -> None:
    """38 K, 120 s: within 0.5 K after 120 ln 76 = 520 s; noise and the end's uncertainty bound it."""
    record = record_of("run", "before", None, log(part_a=settled(60.0)), 600.0)
    told = warmed(record, 0.5)
    row = told["channels"]["part.a"]
    assert row["time_s"] == pytest.approx(120.0 * np.log(76.0), abs=15.0)
    assert row["earliest_s"] < row["time_s"] < row["latest_s"]
    assert told["starts_cold"] is True
    assert told["time_s"] == row["time_s"]


def test_what_follows_late() -> None:
    """A ramp is followed by its rate times the time constant late."""
    ramp = TIME / 3600.0
    assert (ramp - followed(TIME, ramp, 300.0))[-1] == pytest.approx(300.0 / 3600.0, rel=1e-3)


def test_runs_that_are_not_of_one_thing() -> None:
    """Rooms apart, drifting, unlike length and state, columns on one side only: all said."""
    before = [record_of("before 1", "before", None, log(part_a=settled(60.0), part_c=settled(60.0),
                                                        texts={"state": ((0.0, "work"),)}), 600.0)]  # fmt: skip
    warm = log(room=24.5 + 1.5 * TIME / 3600.0, part_a=settled(60.0), part_b=settled(50.0),
               texts={"state": ((0.0, "idle"),)})  # fmt: skip
    after = [record_of("after 1", "after", None, warm.between(0.0, 2400.0), 600.0)]
    said = "\n".join(doubts(before, after))
    for words in (
        "K warmer after than before",
        "runs are of unlike length, 40 to 60 min",
        'unlike states, so the change is not that of the cooling alone: before 1 "work", after 1 "idle"',
        "logged before only, so not compared: part.c",
        "logged after only, so not compared: part.b",
    ):
        assert words in said


def test_a_drifting_room_is_said() -> None:
    one = record_of("run 7", "before", None, log(room=22.0 + 2.0 * TIME / 3600.0, part_a=settled(60.0)), 600.0)
    assert any(text.startswith("the room moved by ±1.0 K in run 7") for text in doubts([one], [one]))


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (slice(0, 1), "holds 1 reading after switch-on"),
        (slice(0, 0), "holds no readings after switch-on"),
        (slice(0, 3), "is 30 s long; a minute is the least that can be compared"),
    ],
)
def test_logs_too_short(part: slice, words: str) -> None:
    whole = log(part_a=settled(60.0))
    cut = replace(whole, time=whole.time[part], readings={n: v[part] for n, v in whole.readings.items()})
    with pytest.raises(ValueError, match=words):
        record_of("run", "before", None, cut, 600.0)


def test_a_log_without_any_reading() -> None:
    with pytest.raises(ValueError, match="no reading in any column that could be compared"):
        record_of("run", "before", None, log(part_a=TIME * np.nan), 600.0)


def test_touch_limits() -> None:
    """IEC 62368-1 table 38, TS1 (from memory, but for plastic at 1 to 10 s): 77 °C."""
    assert touch_limit("plastic", 5.0) == 77.0
    assert [touch_limit("metal", s) for s in (0.5, 1.0, 10.0, 60.0)] == [70.0, 60.0, 51.0, 48.0]

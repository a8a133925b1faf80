"""Readings that sensors cannot have had: dropped beyond doubt, told otherwise, and sound ones left alone."""

import numpy as np
import pytest

from tests.bench.log_files import read
from thermsim.bench.logs.fallen import fallen
from thermsim.bench.logs.spikes import spikes
from thermsim.bench.logs.stuck import stuck

N = 400
TIME = 10.0 * np.arange(N)


def warming(rise, tau=600.0, noise=0.05, seed=0, digits=2):
    """A probe that warms from 22 °C, with noise and the digits of a logger."""
    rng = np.random.default_rng(seed)
    return np.round(22 + rise * (1 - np.exp(-TIME / tau)) + rng.normal(0, noise, N), digits)


def log_of(folder, columns):
    """A log with these columns of parts and a room."""
    names = {f"T{k}": f"part.p{k}" for k in range(len(columns))}
    head = "t [s]," + ",".join(f"{name} [°C]" for name in names) + ",Room [°C]\n"
    room = warming(0.0, seed=99)
    rows = [",".join([f"{TIME[k]:g}", *(f"{column[k]:.2f}" for column in columns), f"{room[k]:.2f}"]) for k in range(N)]
    return read(folder, head + "\n".join(rows) + "\n", columns={**names, "Room": "room"})


@pytest.fixture
def columns():
    return [warming(rise, seed=k) for k, rise in enumerate((40.0, 25.0, 18.0, 12.0, 8.0))]


def test_sound_readings_are_left_alone(columns, tmp_path):
    log = log_of(tmp_path, columns)
    assert log.mended == log.doubts == ()


@pytest.mark.parametrize("digits", [0, 1])
def test_coarse_readings_of_a_settled_box_are_not_stuck(digits):
    columns = [warming(rise, noise=0.01, seed=k, digits=digits) for k, rise in enumerate((40, 25, 18, 12, 8, 1, 0))]
    assert not stuck(columns)


def test_a_spike_is_dropped(columns, tmp_path):
    columns[1][200] = 81.0
    log = log_of(tmp_path, columns)
    assert log.mended == ('column "T1 [°C]": 1 spike, first 81 °C in line 202: dropped',)
    assert np.isnan(log.readings["part.p1"][200])
    assert np.isfinite(log.readings["part.p1"]).sum() == N - 1


def test_a_spike_that_may_have_been_is_told(columns, tmp_path):
    columns[1][200] += 6.0
    log = log_of(tmp_path, columns)
    assert log.mended == ()
    assert log.doubts == (f'column "T1 [°C]": 1 spike, first {columns[1][200]:.4g} °C in line 202',)


def test_a_real_step_is_no_spike():
    values = warming(20.0)
    values[200:] += 20.0
    found = spikes(TIME, values)
    assert found.dropped.size == found.doubted.size == 0


def test_a_bad_contact_is_told_and_not_mended():
    values = warming(20.0)
    values[20:380:12] += 30.0
    found = spikes(TIME, values)
    assert found.dropped.size == 0
    assert found.doubted.size == 30


def test_slow_readings_keep_their_spikes():
    values = warming(20.0)
    values[200] += 30.0
    assert spikes(TIME, values).dropped.tolist() == [200]
    assert spikes(12 * TIME, values).dropped.size == 0


def test_bursts_of_work_are_no_spikes():
    # a processor's own sensor at 1 Hz: 25 K up and back with two seconds of work, six times
    values = warming(0.0, noise=0.2, digits=1)
    for at in (60, 110, 170, 230, 290, 350):
        values[at : at + 2] += 25.0
    found = spikes(TIME / 10, values)
    assert found.dropped.size == 0
    assert found.doubted.size == 12


def test_a_spike_that_comes_with_watts_is_told_and_kept(tmp_path):
    values, watts = warming(20.0), np.full(N, 30.0)
    values[200] += 30.0
    head, rows = "t [s],T [°C],P [W]\n", np.column_stack((TIME, values, watts))
    columns = {"T": "part.p", "P": "supply.watts"}
    for before in (0, 1):  # heat may show a reading later
        rows[:, 2] = 30.0
        rows[200 - before, 2] = 55.0
        told = head + "".join("{:g},{:.2f},{:.1f}\n".format(*row) for row in rows)
        log = read(tmp_path, told, columns=columns)
        assert log.mended == ()
        assert len(log.doubts) == 1
    rows[:, 2] = 30.0
    alone = read(tmp_path, head + "".join("{:g},{:.2f},{:.1f}\n".format(*row) for row in rows), columns=columns)
    assert "1 spike" in alone.mended[0]


def test_a_governed_part_that_stands_still_is_not_stuck():
    # quieter than its digits, while the others flicker: it is left alone; with noise of half a digit it would be stuck
    columns = [warming(rise, noise=0.1, seed=k, digits=1) for k, rise in enumerate((25.0, 18.0, 12.0, 8.0))]
    still = np.repeat([False, True], [200, 200])
    quiet, noisy = (np.where(still, 60.0, warming(38.0, tau=300, noise=noise, digits=1)) for noise in (0.01, 0.05))
    assert not any(one.certain for one in stuck([quiet, *columns]))
    assert [(one.column, one.behind) for one in stuck([noisy, *columns]) if one.certain] == [(0, N)]


def test_a_sensor_that_sticks_is_dropped(columns, tmp_path):
    columns[2][150:300] = columns[2][150]
    log = log_of(tmp_path, columns)
    level = f"{columns[2][150]:.4g}"
    words = f'column "T2 [°C]": 149 readings at {level} °C from line 153 on, stuck while others went on: dropped'
    assert log.mended == (words,)
    assert np.isnan(log.readings["part.p2"][151:300]).all()
    assert np.isfinite(log.readings["part.p2"]).sum() == N - 149


def test_a_sensor_that_sticks_from_the_first_reading(columns, tmp_path):
    columns[2][:] = 22.37
    log = log_of(tmp_path, columns)
    assert log.mended[0].startswith('column "T2 [°C]": 399 readings at 22.37 °C from line 3 on, stuck')


def test_a_sensor_that_may_be_stuck_is_told(columns, tmp_path):
    columns = [np.round(column) for column in columns]  # whole degrees do not flicker
    columns[0][30:200] = columns[0][30]
    log = log_of(tmp_path, columns)
    assert log.mended == ()
    assert log.doubts == ()  # the others have moved by too few of their steps
    fine = [warming(rise, noise=0.0, seed=k) for k, rise in enumerate((40.0, 25.0, 18.0, 12.0))]
    fine[0] = np.round(fine[0], 1)
    fine[0][30:120] = fine[0][30]
    assert [(one.column, one.first, one.behind, one.certain) for one in stuck(fine)] == [(0, 31, 120, False)]


def test_a_column_read_once_in_a_while_is_not_stuck():
    noise = [22 + np.round(np.random.default_rng(k).normal(0, 0.05, 6000), 2) for k in range(5)]
    noise[0] = noise[0][np.arange(6000) // 60 * 60]
    assert not stuck(noise)
    noise[1][1000:1060] = noise[1][999] + 0.04
    assert [(one.column, one.first, one.certain) for one in stuck(noise)] == [(1, 1001, True)]


def test_a_probe_that_fell_off_is_told(columns, tmp_path):
    columns[1][250:] = warming(0.5, seed=7)[250:]
    log = log_of(tmp_path, columns)
    words = 'column "T1 [°C]" falls towards the room at line 248 alone: did the probe come off?'
    assert log.doubts == (words,)


def test_a_box_switched_off_is_no_fallen_probe(columns):
    cooled = {f"T{k}": np.where(TIME < 2500, column, 22 + (column - 22) * np.exp(-(TIME - 2500) / 60))
              for k, column in enumerate(columns)}  # fmt: skip
    assert not fallen(TIME, cooled, np.full(N, 22.0))

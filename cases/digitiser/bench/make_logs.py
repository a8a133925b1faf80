"""Writes the invented logs of this folder anew: `python cases/digitiser/bench/make_logs.py`.

Nothing was measured. Temperatures are those of the tool's own model of a box that differs from the case in what is
planted below; offsets of probes, noise, a drifting room and the habits of three loggers are laid over them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

import thermsim
from thermsim.bench.readings import modelled

FOLDER = Path(__file__).parent
INVENTED = "invented data, made by make_logs.py; nothing was measured"

# what the box on the bench differs by from the case: the films of the board 12 % weaker, the paste under the plate bad
FILMS = {"film.board_top.h": "10.56 W/m2K", "film.board_bottom.h": "6.16 W/m2K"}
PASTE = {"joint.fpga_plate.resistance": "0.40 K/W"}

STEP = 15.0  # s
PROBE_NOISE, CALIBRATION = 0.05, 0.15  # K, standard deviations: from reading to reading, from probe to probe
ADCS = [f"adc{number}" for number in range(1, 9)]
PARTS = ["fpga", *ADCS, "power_left", "power_right", "link", "preamp_left", "preamp_right", "clock"]
NAMES = ["FPGA", *(f"ADC {number}" for number in range(1, 9)), "PSU left", "PSU right", "Link", "Preamp left",
         "Preamp right", "Clock"]  # fmt: skip
Columns = dict[str, np.ndarray]


@dataclass(frozen=True)
class Form:
    """How a logger writes: delimiter, decimal sign, unit of temperatures, its stamps, lines before the header."""

    delimiter: str
    decimal: str
    degree: str
    stamp: Callable[[float, datetime], str]
    preamble: tuple[str, ...]
    encoding: str = "utf-8"
    time: str = "Time"


@dataclass(frozen=True)
class Run:
    """One invented run: what stood on the bench, the room about which °C, how long, and by which logger."""

    file: str
    option: str | None
    room: float
    minutes: int
    form: Form
    began: datetime
    seed: int


def clock(time: float, _: datetime) -> str:
    """Time since the first reading as h:mm:ss."""
    return f"{int(time) // 3600}:{int(time) // 60 % 60:02d}:{int(time) % 60:02d}"


def utc(time: float, began: datetime) -> str:
    """A stamp in UTC, as ISO 8601 has it."""
    return (began + timedelta(seconds=time)).isoformat().replace("+00:00", "Z")


def seconds(time: float, _: datetime) -> str:
    """Plain seconds."""
    return f"{time:g}"


HAND_LOGGER = Form(";", ",", "°C", clock, (INVENTED, "bench logger A, serial 0000", ""), "utf-8-sig")
RACK_LOGGER = Form(",", ".", "degC", utc, (f"# {INVENTED}", "# bench logger B, stamps in UTC"))
PLAIN_LOGGER = Form("\t", ".", "°C", seconds, (f"# {INVENTED}",), time="Time [s]")

RUNS = (
    Run("before-1.csv", None, 22.1, 66, HAND_LOGGER, datetime(2026, 3, 2, 9, 0, tzinfo=UTC), 11),
    Run("before-2.csv", None, 21.8, 64, RACK_LOGGER, datetime(2026, 3, 3, 8, 30, tzinfo=UTC), 12),
    Run("before-3.csv", None, 22.3, 65, PLAIN_LOGGER, datetime(2026, 3, 5, 13, 0, tzinfo=UTC), 13),
    Run("after-1.csv", "hybrid", 21.9, 68, RACK_LOGGER, datetime(2026, 3, 3, 14, 0, tzinfo=UTC), 21),
    Run("after-2.csv", "hybrid", 22.2, 64, HAND_LOGGER, datetime(2026, 3, 4, 9, 15, tzinfo=UTC), 22),
    Run("after-3.csv", "hybrid", 22.0, 66, PLAIN_LOGGER, datetime(2026, 3, 6, 9, 0, tzinfo=UTC), 23),
)


def truth(run: Run) -> tuple[np.ndarray, Columns]:
    """Times (s) and what the box on the bench did: values by channel, exact."""
    rng = np.random.default_rng(run.seed)
    end = 60.0 * run.minutes
    knots = np.linspace(0.0, end, 61)
    slow = rng.uniform(0, 2 * np.pi, 2)
    drift = 0.2 * np.sin(2 * np.pi * knots / 4000 + slow[0]) + 0.1 * np.sin(2 * np.pi * knots / 1300 + slow[1])
    room, outdoors = run.room + drift, 23.0 + 0.3 * np.sin(2 * np.pi * knots / 5000 + slow[1])
    changes = {
        "run.duration": f"{end} s",
        "run.start": f"{room[0]} degC",
        "box.outside.h": f"{9.0 * rng.normal(1.0, 0.02)} W/m2K",  # draughts differ from run to run
        "duty.room": ramp("room.temperature", knots, room),
    }
    if run.option is not None:
        changes |= PASTE | {"duty.outdoors": ramp("airway.radiator.inlet", knots, outdoors)}
    case = thermsim.load_case(FOLDER.parent, run.option, changes | FILMS)
    time = np.arange(0.0, end + 1, STEP)
    return time, modelled(case, [channel for channel, _, _, _ in columns(run)], time)


def ramp(of: str, time: np.ndarray, values: np.ndarray) -> dict[str, object]:
    """A duty through points."""
    return {"of": of, "shape": "ramp", "points": [f"{t} s, {v} degC" for t, v in zip(time, values, strict=True)]}


def columns(run: Run) -> list[tuple[str, str, str, int]]:
    """Channel, header, unit and decimals of each column but the time and the texts."""
    degree = run.form.degree
    found = [(f"part.{part}", name, degree, 2) for part, name in zip(PARTS, NAMES, strict=True)]
    found += [("room", f"Room {number}", degree, 2) for number in (1, 2, 3)]
    found += [("airway.main.inlet", "Air in", degree, 2), ("airway.main.outlet", "Air out", degree, 2)]
    if run.option is not None:
        found += [
            ("plate.main.inlet", "Coolant in", degree, 2), ("plate.main.outlet", "Coolant out", degree, 2),
            ("airway.radiator.inlet", "Radiator air", degree, 2), ("loop.main.flow", "Coolant flow", "L/min", 3),
        ]  # fmt: skip
    return [
        *found, ("fan.pair", "Fan", "rpm", 0), ("supply.volts", "Supply", "V", 3), ("supply.watts", "Current", "A", 4),
        ("humidity", "Humidity", "%", 1), ("noise", "Sound", "dB(A)", 1),
        ("noise.background", "Background", "dB(A)", 1),
    ]  # fmt: skip


def read_off(run: Run, time: np.ndarray, true: Columns) -> list[np.ndarray]:
    """What the instruments make of it, one array a column: each with its own offset, the same in every run."""
    rng, of_probes = np.random.default_rng(run.seed + 100), np.random.default_rng(7)
    offsets = {name: of_probes.normal(0.0, CALIBRATION) for name in (*NAMES, "Room 1", "Room 2", "Room 3", "Air in",
               "Air out", "Coolant in", "Coolant out", "Radiator air")}  # fmt: skip
    where = {"Room 1": -0.06, "Room 2": 0.0, "Room 3": 0.06}  # K, the room is not the same everywhere
    volts = 24.02 + rng.normal(0.0, 0.004, time.size)
    found = []
    for channel, name, unit, _ in columns(run):
        noise = rng.normal(size=time.size)
        if name in offsets:
            values = true[channel] + offsets[name] + where.get(name, 0.0) + PROBE_NOISE * noise
        elif channel == "supply.volts":
            values = volts
        elif channel == "supply.watts":
            values = true[channel] * (1 + 0.002 * noise) / volts
        elif unit == "rpm":
            values = 10 * np.round(360 * true[channel] + 0.5 * noise)
        elif unit == "L/min":
            values = 6e4 * true[channel] * (1 + 0.01 * noise)
        elif unit == "%":
            values = 45.0 + 1.5 * np.sin(time / 900 + run.seed) + 0.1 * noise
        else:
            values = true[channel] + (0.3 if name == "Background" else 0.2) * noise
        found.append(values)
    return found


def rows(run: Run) -> list[list[str]]:
    """Header and rows as the logger wrote them, before any of its faults."""
    time, true = truth(run)
    told = columns(run)
    header = [run.form.time, *(f"{name} [{unit}]" for _, name, unit, _ in told), "State", "Event"]
    table = [header]
    for k, values in enumerate(zip(*read_off(run, time, true), strict=True)):
        cells = [f"{value:.{digits}f}" for value, (_, _, _, digits) in zip(values, told, strict=True)]
        event = "switch-on" if k == 0 else "end" if k == time.size - 1 else ""
        cells = [cell.replace(".", run.form.decimal) for cell in cells]
        table.append([run.form.stamp(float(time[k]), run.began), *cells, "work", event])
    return table


def with_faults(run: Run, table: list[list[str]]) -> list[list[str]]:
    """What happens on a bench: a logger that pauses, a loose plug, a converter that hangs."""
    at = table[0].index
    degree = f" [{run.form.degree}]"
    if run.file == "before-2.csv":  # the rack's network went away for two minutes and a half
        del table[90:100]
    elif run.file == "before-3.csv":  # the clock's probe was loose
        for row in (57, 58, 140):
            table[row][at("Clock" + degree)] = "OL"
    elif run.file == "after-2.csv":  # the channel of ADC 6 hangs from half an hour on
        for row in table[120:]:
            row[at("ADC 6" + degree)] = table[119][at("ADC 6" + degree)]
    elif run.file == "after-3.csv":  # a line written twice
        table.insert(40, table[39])
    return table


# --- the leak test of the loop, dry, held twice -------------------------------------------------------------

VOLUME = 0.30e-3  # m³
LEAKS = 0.02e-6 / 60 * 101_325 / (8.314462618 * 273.15)  # mol/s: 0.02 cm³ a minute as gas at 0 °C and one atmosphere
CREEP = {"leak-1.csv": 260.0, "leak-2.csv": 80.0}  # Pa that the hoses give way, less the second time
CREEPS_IN = 700.0  # s


def leak_rows(file: str) -> list[list[str]]:
    """Header and rows of a pressure-decay test of 45 minutes from 1.5 bar, every 10 s."""
    rng = np.random.default_rng(31 if file == "leak-1.csv" else 32)
    time = np.arange(0.0, 2701.0, 10.0)
    fills = 0.6 * np.exp(-time / 200)  # K, air warm from being pressed together
    degc = 22.4 - 0.25 * time / 2700 + 0.03 * np.sin(time / 300)
    amount = 150_000.0 * VOLUME / (8.314462618 * (273.15 + degc[0] + fills[0])) - LEAKS * time
    pressure = amount * 8.314462618 * (273.15 + degc + fills) / VOLUME - CREEP[file] * (1 - np.exp(-time / CREEPS_IN))
    shown = zip(pressure + rng.normal(0, 8, time.size), degc + rng.normal(0, 0.015, time.size), strict=True)
    body = [[clock(t, RUNS[0].began), f"{p / 1000:.2f}", f"{c:.2f}"] for t, (p, c) in zip(time, shown, strict=True)]
    return [["Time", "Pressure [kPa]", "Tank [°C]"], *body]


def write(file: str, form: Form, table: list[list[str]]) -> None:
    """Write a log as its logger does."""
    lines = [*form.preamble, *(form.delimiter.join(row) for row in table)]
    (FOLDER / file).write_text("\n".join(lines) + "\n", encoding=form.encoding)


if __name__ == "__main__":
    for one in RUNS:
        write(one.file, one.form, with_faults(one, rows(one)))
    for name in CREEP:
        write(name, PLAIN_LOGGER, leak_rows(name))

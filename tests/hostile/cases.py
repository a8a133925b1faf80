"""Hostile case files: sound ones with bytes, quantities, types, references and structure changed, and a few built ones."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from copy import deepcopy
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

from tests.hostile import words
from tests.hostile.toml_text import toml_text
from thermsim.case.schema import CaseFile

ROOT = Path(__file__).parents[2]
SMALL = """
[case]
title = "A board in a box"
invented = true
note = "all there is"
[room]
temperature = "22 degC"
humidity = "45 %"
noise_floor = "18 dB(A)"
[run]
duration = "10 min"
cell = "10 mm"
frames = 3
[box]
corner = "0, 0 mm"
size = "120 x 90 x 60 mm"
thickness = "1 mm"
material = "aluminium 6061"
outside = { law = "natural", emissivity = 0.9 }
inside = { law = "fixed", h = "6 W/m2K", to = "airway.main" }
[sheet.board]
corner = "10, 10 mm"
size = "100 x 70 mm"
thickness = "1.6 mm"
layers = [{ thickness = "35 um", copper = 0.6 }, { thickness = "35 um", copper = 0.9 }]
patch.pour = { corner = "20, 20 mm", size = "30 x 30 mm", conductivity = "60 W/mK" }
cutout.notch = { corner = "100, 10 mm", size = "10 x 10 mm" }
[part.fpga]
on = "sheet.board"
centre = "50, 40 mm"
size = "30 x 30 mm"
watts = { work = "8 W", idle = "1 W" }
limit = "85 degC"
to_board = "1.5 K/W"
heat_capacity = "25 J/K"
[part.adc]
on = "sheet.board"
centre = "90, 60 mm"
size = "8 x 8 mm"
watts = "0.5 W"
limit = "60 degC"
to_board = "8 K/W"
heat_capacity = "2 J/K"
drift = "3 ppm/K"
reading_tolerance = "5 ppm"
[fan.pair]
curve = ["0 m3/h, 38 Pa", "10 m3/h, 30 Pa", "30 m3/h, 0 Pa"]
noise = "29 dB(A)"
rated_speed = "3000 rpm"
[airway.main]
corner = "10, 10 mm"
size = "100 x 70 mm"
height = "40 mm"
fans = ["fan.pair"]
resistance = "0.012 Pa/(m3/h)2"
[film.top]
on = "sheet.board"
to = "airway.main"
law = "duct"
[film.bottom]
on = "sheet.board"
face = "bottom"
law = "fixed"
h = "2 W/m2K"
to = "airway.main"
[plate.cold]
corner = "30, 20 mm"
size = "40 x 40 mm"
thickness = "8 mm"
material = "aluminium 6061"
channel = { path = ["40, 20 mm", "40, 60 mm"], width = "3 mm", depth = "3 mm" }
[joint.pad]
between = ["part.fpga", "plate.cold"]
resistance = "0.3 K/W"
[pump.small]
curve = ["0 L/min, 40 kPa", "2 L/min, 0 kPa"]
[hose.tube]
length = "1 m"
bore = "6 mm"
[radiator.outside]
airway = "main"
conductance = "14 W/K"
at_flow = "60 m3/h"
exponent = 0.5
volume = "60 mL"
drop = "1.9 kPa"
drop_at = "0.58 L/min"
[loop.main]
pump = "pump.small"
coolant = "water"
path = ["hose.tube", "plate.cold", "radiator.outside"]
[governor.g]
sensor = "part.fpga"
drives = "fan.pair"
law = "hold"
set_point = "60 degC"
gain = "5 %/K"
reset = "60 s"
min_speed = "30 %"
[duty.day]
of = "state"
points = ["0 s, work", "3 min, idle"]
repeat = "5 min"
[duty.swing]
of = "room.temperature"
sine = { mean = "22 degC", amplitude = "2 K", period = "4 min" }
[mishap.dies]
at = "5 min"
stops = "pump.small"
[must_have.quiet]
of = "noise"
at_most = "35 dB(A)"
[probe.spot]
on = "sheet.board"
at = "30, 30 mm"
[uncertain.paste]
of = "joint.pad.resistance"
spread = "20 %"
[option."better paste"]
set = { "joint.pad.resistance" = "0.1 K/W" }
effort = { cost = 10 }
[option.warm]
base = "better paste"
set = { "room.temperature" = "30 degC", "film.*.emissivity" = 0.8 }
mishaps = "dies"
[option.bare]
remove = ["loop.main", "plate.cold", "joint.pad", "pump.small", "hose.tube", "radiator.outside"]
[bench.columns]
"A [°C]" = "part.fpga"
[bench.run.b]
file = "log.csv"
"""
QUANTITY = re.compile(r'"[^"\n]*\d[^"\n]*"')
LARGE = ("run.cell", "run.duration", "run.frames", "run.merge", "plate.cold.channel.segments", "hose.tube.segments",
         "airway.main.segments", "duty.swing.sine.period", "duty.day.repeat", "sheet.board.size", "box.size", "run.tolerance",
         "run.settle", "governor.g.lag", "governor.g.reset", "governor.g.gain", "place.step", "chill.steps")  # fmt: skip
ADDRESSES = ("part.fpga.watts", "room.temperature", "run.duration", "run.cell", "part.*.watts", "option.warm.base", "box.size",
             "case.title", "", ".", "part", "part.fpga", '"', "part.\x1b.watts", "plate.cold.channel", "duty.day", "nothing.here",
             "bench.run.b.file", "leak.logs", "part.fpga.watts.work.more")  # fmt: skip


@lru_cache(maxsize=1)
def _sources() -> tuple[str, ...]:
    return (
        SMALL,
        SMALL,
        SMALL,
        *((ROOT / "cases" / name / "case.toml").read_text() for name in ("digitiser", "organ")),
    )


def hostile_case(random: Random) -> tuple[bytes, list[str]]:
    """The bytes of a case file, and arguments that go with it."""
    way = random.randrange(12)
    text = random.choice(_sources())
    if way < 2:
        data = words.noise(random, text.encode())
    elif way < 4:
        data = _quantities(random, text).encode("utf-8", "surrogatepass")
    elif way < 7:
        data = _scaled(random, SMALL).encode()
    elif way < 11:
        data = toml_text(_twisted(random, tomllib.loads(text))).encode("utf-8", "surrogatepass")
    else:
        data = _built(random).encode("utf-8", "surrogatepass")
    return data, list(_changes(random))


def _changes(random: Random) -> Iterator[str]:
    while random.random() < 0.15:
        put = random.choice(
            (words.quantity(random), random.choice(words.TEXTS)[:500], "", repr(words.value(random))[:2000])
        )
        yield from (
            "--set",
            f"{random.choice(ADDRESSES)}{random.choice(('=', '=', '==', ''))}{put}".replace("\x00", "\x01"),
        )
    if random.random() < 0.1:
        yield from (
            "-p",
            random.choice(("base", "warm", "bare", "better paste", *words.TEXTS))[:500].replace("\x00", "\x01"),
        )


def _quantities(random: Random, text: str) -> str:
    """A few quantities of a file made odd."""
    found = list(QUANTITY.finditer(text))
    for one in sorted(random.sample(found, random.choice((1, 1, 2, 4))), key=lambda m: -m.start()):
        piece = one[0]
        if random.random() < 0.7:
            piece = re.sub(r"\d+(\.\d+)?", lambda _: words.number(random), piece, count=random.choice((1, 2)))
        else:
            piece = '"' + words.quantity(random).replace("\x00", "\\u0000") + '"'
        text = text[: one.start()] + piece + text[one.end() :]
    return text


def _scaled(random: Random, text: str) -> str:
    """Quantities of a file by powers of ten larger or smaller: such a case is often sound, and strange."""
    found = [m for m in QUANTITY.finditer(text) if " " in m[0]]
    for one in sorted(random.sample(found, random.choice((1, 2, 3, 6))), key=lambda m: -m.start()):
        factor = 10.0 ** random.choice((-6, -3, -2, -1, 1, 2, 3, 6, 9))
        piece = re.sub(
            r"\d+(\.\d+)?", lambda m, by=factor: f"{float(m[0]) * by:g}", one[0], count=random.choice((1, 2))
        )
        text = text[: one.start()] + piece + text[one.end() :]
    return text


def _twisted(random: Random, tables: dict[str, Any]) -> dict[str, Any]:
    """Tables with values, keys and references changed."""
    for _ in range(random.choice((1, 1, 2, 4))):
        owner, key = random.choice(list(_leaves(tables)))
        other, other_key = random.choice(list(_leaves(tables)))
        way = random.randrange(11)
        if way < 3:
            owner[key] = words.value(random)
        elif way == 3:
            del owner[key]
        elif way == 4 and isinstance(owner, dict):
            owner[random.choice(words.TEXTS)] = owner.pop(key)
        elif way == 5:
            owner[key] = deepcopy(other[other_key])
        elif way == 6 and isinstance(owner, dict):
            owner[random.choice((*words.TEXTS, *CaseFile.model_fields))] = words.value(random)
        elif way == 7:
            _put(
                tables,
                random.choice(LARGE),
                random.choice((words.number(random), words.quantity(random), 10**9, 10**6, 0, -1)),
            )
        elif way == 8 and isinstance(tables.setdefault("option", {}), dict):
            tables["option"][random.choice(words.TEXTS)] = {
                "base": random.choice(("warm", "a", "better paste")), "set": {random.choice(ADDRESSES): words.value(random)},
            }  # fmt: skip
        elif way == 9 and isinstance(tables.setdefault("bench", {}), dict):
            run = {"file": random.choice(words.FILES), "stands": random.choice(("before", "after"))}
            _put(tables, f"bench.run.{random.choice(('r', 'b', 'a b', '../x'))}", run)
        else:
            tables[random.choice(list(CaseFile.model_fields))] = words.value(random)
        if not tables:
            break
    return tables


def _leaves(table: Any) -> Iterator[tuple[Any, Any]]:
    """Every place that holds something: its table or list, and its key."""
    for key, item in list(table.items() if isinstance(table, dict) else enumerate(table)):
        yield table, key
        if isinstance(item, dict | list):
            yield from _leaves(item)


def _put(tables: Any, address: str, what: Any) -> None:
    *way, last = address.split(".")
    for key in way:
        tables = tables.setdefault(key, {})
        if not isinstance(tables, dict):
            return
    tables[last] = what


def _built(random: Random) -> str:
    """Files that no mutation would come upon: many of something, long somethings, circles."""
    many = random.choice((100, 1000, 5000, 30_000))
    part = 'on = "sheet.board"\ncentre = "{x}, {y} mm"\nsize = "1 x 1 mm"\nwatts = "1 W"\nheat_capacity = "1 J/K"\nto_board = "1 K/W"\n'
    way = random.randrange(12)
    if way == 0:
        more = "".join(f"[part.p{k}]\n" + part.format(x=11 + k % 90, y=11 + k // 90 % 60) for k in range(many))
    elif way == 1:
        more = "".join(f'[option.o{k}]\nbase = "o{(k + 1) % many}"\n' for k in range(many)) + ""
    elif way == 2:
        more = "".join(f"[part.p{k}]\nwats = 1\n" for k in range(many))
    elif way == 3:
        more = "x = " + "[" * many + "]" * many
    elif way == 4:
        more = "[" + ".".join(["a"] * many) + "]\nx = 1"
    elif way == 5:
        more = ".".join(["a"] * many) + " = 1"
    elif way == 6:
        more = 'x = "' + "é" * many * 50 + '"'
    elif way == 7:
        more = "x = " + random.choice(("0x", "", "0b", "1.")) + "1" * many
    elif way == 8:
        more = (
            '[duty.many]\nof = "part.adc.watts"\npoints = ['
            + ", ".join(f'"{k} ms, {k % 7} W"' for k in range(many))
            + "]"
        )
    elif way == 9:
        more = "[probe]\n" + "".join(
            f'n{k} = {{ on = "sheet.board", at = "30, {20 + k % 50} mm" }}\n' for k in range(many)
        )
    elif way == 10:
        more = "[option.long]\nremove = [" + ", ".join(f'"film.x{k}"' for k in range(many)) + "]"
    else:
        cut = [
            f'c{k} = {{ corner = "{11 + k % 90}, {11 + k // 90 % 60} mm", size = "0.4 x 0.4 mm" }}' for k in range(many)
        ]
        more = '[sheet.second]\ncorner = "10, 10 mm"\nsize = "100 x 70 mm"\nthickness = "1 mm"\nmaterial = "copper"\n'
        more += "[sheet.second.cutout]\n" + "\n".join(cut)
    return SMALL + "\n" + more + "\n" if random.random() < 0.8 else more

"""Hostile case files: sound ones with bytes, quantities, types, references, structure changed; a few built ones."""

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
from tests.hostile.mild import mild_case
from tests.hostile.small_case import SMALL
from tests.hostile.toml_text import toml_text
from thermsim.case.schema import CaseFile

ROOT = Path(__file__).parents[2]
QUANTITY = re.compile(r'"[^"\n]*\d[^"\n]*"')
NEARLY_SOUND = 0.6  # share of inputs
LARGE = ("run.cell", "run.duration", "run.frames", "run.merge", "plate.cold.channel.segments", "hose.tube.segments",
         "airway.main.segments", "duty.swing.sine.period", "duty.day.repeat", "sheet.board.size", "box.size",
         "run.tolerance",
         "run.settle", "governor.g.lag", "governor.g.reset", "governor.g.gain", "place.step",
         "chill.steps")  # fmt: skip
ADDRESSES = ("part.fpga.watts", "room.temperature", "run.duration", "run.cell", "part.*.watts", "option.warm.base",
    "box.size",
             "case.title", "", ".", "part", "part.fpga", '"', "part.\x1b.watts", "plate.cold.channel", "duty.day",
             "nothing.here",
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
    """The bytes of a case file, and arguments that go with it; the most are nearly sound."""
    if random.random() < NEARLY_SOUND:
        return mild_case(random).encode("utf-8", "surrogatepass"), []
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
                "base": random.choice(("warm", "a", "better paste")),
                "set": {random.choice(ADDRESSES): words.value(random)},
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
    part = 'on = "sheet.board"\ncentre = "{x}, {y} mm"\nsize = "1 x 1 mm"\nwatts = "1 W"\n'
    part += 'heat_capacity = "1 J/K"\nto_board = "1 K/W"\n'
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

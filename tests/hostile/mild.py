"""Cases that are nearly sound: one to three values of a sound one changed within or near what they may be."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from copy import deepcopy
from random import Random
from typing import Any

from tests.hostile.quick_case import quick_tables
from tests.hostile.small_case import SMALL
from tests.hostile.toml_text import toml_text

Leaf = tuple[Any, Any]  # a table or list, and the key of a value in it
NUMBER = re.compile(r"(?<![\w.])\d+(\.\d+)?")
FACTORS = (0.1, 0.3, 0.5, 0.8, 0.9, 0.99, 1.01, 1.1, 1.25, 2, 3, 10)
UNITS = (
    ("mm", "cm", "m", "um"), ("W", "mW", "kW"), ("K/W", "mK/W"), ("min", "s", "h"), ("kPa", "Pa", "mbar"),
    ("L/min", "m3/h", "L/h"), ("degC", "K"), ("J/K", "kJ/K"), ("W/m2K", "W/cm2K"),
)  # fmt: skip
NAMES = ("名前", "ü", "a b", "A", "x,y", "d'or", "100 %", "base 2", "k" * 60, "😀", "o'<b>", "con", "..", "a.b", "")
NOTES = ("名前 בית 😀", '<b>bold</b> & "so"', "$x_1$ and {{ 7 * 7 }}", "two\nlines", "[red]x[/red]", "%s %d", "\u202e")


def mild_case(random: Random) -> str:
    """A case file as text; two of three are small in work, one has every kind of table."""
    tables = quick_tables() if random.random() < 0.7 else tomllib.loads(SMALL)
    for _ in range(random.choice((1, 1, 2, 3))):
        random.choice(WAYS)(random, tables)
    return toml_text(tables)


def _leaves(table: Any) -> Iterator[Leaf]:
    for key, item in list(table.items() if isinstance(table, dict) else enumerate(table)):
        if isinstance(item, dict | list):
            yield from _leaves(item)
        else:
            yield table, key


def _numbers(tables: Any) -> list[Leaf]:
    return [(owner, key) for owner, key in _leaves(tables)
            if isinstance(owner[key], float | int) or NUMBER.search(str(owner[key]))]  # fmt: skip


def _changed(random: Random, tables: Any, change: Callable[[str], str]) -> None:
    """One number of the tables changed as text, its unit left."""
    owner, key = random.choice(_numbers(tables))
    if isinstance(owner[key], str):
        count = len(NUMBER.findall(owner[key]))
        chosen = iter([k == at for at in [random.randrange(count)] for k in range(count)])
        owner[key] = NUMBER.sub(lambda found: change(found[0]) if next(chosen) else found[0], owner[key])
    elif not isinstance(owner[key], bool):
        owner[key] = type(owner[key])(float(change(str(owner[key]))))


def _scaled(random: Random, tables: Any) -> None:
    factor = random.choice(FACTORS)
    _changed(random, tables, lambda text: f"{float(text) * factor:g}")


def _at_the_edge(random: Random, tables: Any) -> None:
    way = random.randrange(3)
    _changed(random, tables, lambda text: ("0", f"-{text}", f"{float(text):.12e}")[way])


def _other_unit(random: Random, tables: Any) -> None:
    group = random.choice(UNITS)
    unit = re.compile(rf"(?<=\d )({'|'.join(map(re.escape, group))})(?![\w/])")
    found = [(owner, key) for owner, key in _leaves(tables) if unit.search(str(owner[key]))]
    if found:
        owner, key = random.choice(found)
        owner[key] = unit.sub(random.choice(group), owner[key])


def _neighbour(random: Random, tables: Any) -> None:
    """Another table's name where one is named, mostly of the same kind."""
    there = [f"{kind}.{name}" for kind, named in tables.items() for name in named if isinstance(named, dict)]
    found = [(owner, key) for owner, key in _leaves(tables) if owner[key] in there]
    if not found:
        return
    owner, key = random.choice(found)
    kind = owner[key].split(".")[0]
    owner[key] = random.choice([one for one in there if random.random() < 0.2 or one.startswith(f"{kind}.")] or there)


def _dropped(random: Random, tables: Any) -> None:
    owner, key = random.choice(list(_leaves(tables)))
    del owner[key]


def _doubled(random: Random, tables: Any) -> None:
    """A table once more under another name."""
    named = [kind for kind, table in tables.items() if table and all(isinstance(one, dict) for one in table.values())]
    table = tables[random.choice(named)]
    table[random.choice(NAMES[:6])] = deepcopy(table[random.choice(list(table))])


def _renamed(random: Random, tables: Any) -> None:
    """An option, a mishap or the like under another name, which is mostly named nowhere else."""
    kind = random.choice([one for one in ("option", "mishap", "uncertain", "must_have", "part") if tables.get(one)])
    old, new = random.choice(list(tables[kind])), random.choice(NAMES)
    tables[kind] = {new if name == old else name: table for name, table in tables[kind].items()}
    for owner, key in _leaves(tables):
        if owner[key] in (old, f"{kind}.{old}") and random.random() < 0.9:
            owner[key] = owner[key].removesuffix(old) + new


def _noted(random: Random, tables: Any) -> None:
    tables["case"][random.choice(("title", "note"))] = random.choice(NOTES)


WAYS = (_scaled,) * 6 + (_at_the_edge, _other_unit, _neighbour, _dropped, _doubled, _renamed, _noted)

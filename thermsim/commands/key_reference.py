"""What a case file may hold, told from the schema; the words for each key stand in keys.toml beside this file."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from thermsim import units
from thermsim.case.address import alternatives, reader_of
from thermsim.case.errors import KeyPath, Problem
from thermsim.case.fields import Table
from thermsim.case.flow import Block, Loop, Pump
from thermsim.case.lines import split_address
from thermsim.case.schema import CaseFile

NAME = "NAME"  # stands for a name of the user's choice
ITEM = 0  # stands for each item of a list
FIRST = ("case", "room", "run", "box")  # the tables that most cases begin with
AIR_FLOW = "40 m3/h"
Row = dict[str, Any]


def tables() -> list[Row]:
    """Every table of a case file: its heading, what it is, and a row for each key."""
    kinds = sorted(CaseFile.model_fields, key=lambda kind: kind not in FIRST)
    return [row for kind in kinds for row in _walk(CaseFile.model_fields[kind], (kind,), set())]


def _walk(field: FieldInfo, path: KeyPath, told: set[type[Table]]) -> Iterator[Row]:
    """The table at a path and those within it, each type once; keys that are needed come first."""
    found = _table_in(field.annotation)
    if found is None or found[0] in told:
        return
    model, more = found
    told.add(model)
    path = (*path, *more)
    about = " ".join((model.__doc__ or "").split("\n\n")[0].split())
    keys = [_key(model, key, inner, path) for key, inner in model.model_fields.items()]
    yield {
        "kind": path[0],
        "table": ".".join(str(key) for key in path if key != ITEM),
        "needed": field.is_required(),
        "about": about,
        "keys": sorted(keys, key=lambda key: not key["needed"]),
    }
    for key, inner in model.model_fields.items():
        yield from _walk(inner, (*path, key), told)


def _table_in(annotation: Any) -> tuple[type[Table], KeyPath] | None:
    """The table type of a field, with the name or number that stands between."""
    for one in alternatives(annotation):
        if get_origin(one) in (dict, tuple):
            inside = _table_in(get_args(one)[1 if get_origin(one) is dict else 0])
            return (inside[0], (NAME if get_origin(one) is dict else ITEM,)) if inside else None
        if isinstance(one, type) and issubclass(one, Table):
            return one, ()
    return None


def _key(model: type[Table], key: str, field: FieldInfo, path: KeyPath) -> Row:
    choices = [toml_text(choice) for one in alternatives(field.annotation) if get_origin(one) is Literal
               for choice in get_args(one)]  # fmt: skip
    how = reader_of((*path, key))
    default = None if field.is_required() else field.get_default(call_default_factory=True)
    told = bool(default) and not isinstance(default, Table)
    return {
        "key": key,
        "needed": field.is_required(),
        "example": choices[0] if choices else _example(model, key, field, how),
        "choices": choices,
        "default": _default(default, how) if told else None,
        "meaning": meaning(model, key),
    }


def _example(model: type[Table], key: str, field: FieldInfo, how: dict[str, Any]) -> str:
    """A value as one writes it, or what kind of value it is."""
    coolant = model in (Pump, Loop, Block) or key == "drop_at"
    kind = next(iter(alternatives(field.annotation)))
    many = get_origin(kind) is tuple and get_args(kind)[-1] is Ellipsis
    if "dimensions" in how:
        texts = [AIR_FLOW if d == "flow" and not coolant else units.example(d) for d in how["dimensions"]]
        return f'["{", ".join(texts)}", …]'
    if "dimension" in how:
        air = how["dimension"] == "flow" and not coolant
        text = f'"{AIR_FLOW if air else units.example(how["dimension"], how.get("count", 1))}"'
        return f"[{text}, …]" if many else text
    words: dict[Any, str] = {str: "text", float: "number", int: "whole number", bool: "true or false"}
    return "list" if get_origin(kind) is tuple else words.get(kind, "table")


def _default(value: Any, how: dict[str, Any]) -> str:
    if isinstance(value, float) and "dimension" in how:
        return units.format_quantity(value, how["dimension"])
    return toml_text(value)


def toml_text(value: Any) -> str:
    """A plain value as a case file would have it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return f"[{', '.join(map(toml_text, value))}]"
    return f'"{value}"' if isinstance(value, str) else f"{value}" if isinstance(value, int) else f"{value:g}"


@lru_cache(maxsize=1)
def words() -> dict[str, dict[str, str]]:
    """Meaning of each key, by table type."""
    return tomllib.loads(files("thermsim.commands").joinpath("keys.toml").read_text(encoding="utf-8"))


def meaning(model: type[Table], key: str) -> str:
    """The line about a key, of the table type itself or of one it builds on."""
    told = (words().get(one.__name__, {}).get(key) for one in model.__mro__)
    return next(filter(None, told), "")


def kinds_to_look_up(problems: Iterable[Problem]) -> list[str] | None:
    """Kinds of table whose keys the problems' author may want to see; None if they are about other things."""
    puzzled = [p for p in problems if p.message.startswith(("unknown key", "unknown table", "missing"))]
    kinds = dict.fromkeys(_kind(problem.key) for problem in puzzled)
    return [kind for kind in kinds if kind in CaseFile.model_fields] if puzzled else None


def _kind(key: str) -> str:
    """The kind of table a key path is about, looking into options."""
    path = split_address(key) or ("",)
    if path[0] == "option" and len(path) > 3:
        return (split_address(path[3]) or ("option",))[0]
    return path[0]

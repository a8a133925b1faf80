"""Raw tables through the schema, and the schema's complaints in plain words."""

import json
from collections.abc import Iterator
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from thermsim import units
from thermsim.case.address import keys_of, reader_of, type_at
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.fields import ONE, STATES
from thermsim.case.reading import Raw

M = TypeVar("M", bound=BaseModel)

LONGEST_SHOWN = 60  # characters of a wrong value

_BOUNDS = {
    "greater_than": "above",
    "greater_than_equal": "at least",
    "less_than": "below",
    "less_than_equal": "at most",
}
_TYPES = {
    "string_type": "must be text",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "bool_type": "must be true or false",
    "dict_type": "must be a table",
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "tuple_type": "must be a list",
}


def validate_table(model: type[M], raw: Any, at: KeyPath = ()) -> tuple[M | None, list[Finding]]:
    """A table of the schema from its raw form, or what is wrong with it; `at` is its path in the file."""
    try:
        # as JSON: strict about numbers, text and truth values, and yet a list will do for a tuple
        return model.model_validate_json(json.dumps(raw)), []
    except ValidationError as error:
        return None, list(_findings(error.errors(include_url=False), raw, at))


def _findings(errors: list[ErrorDetails], raw: Any, at: KeyPath) -> Iterator[Finding]:
    misspelt = set()
    for error in sorted(errors, key=lambda error: error["type"] != "extra_forbidden"):
        path = tuple(key for key in error["loc"] if key not in (ONE, STATES))
        if error["type"] == "extra_forbidden":
            hint = nearest(str(path[-1]), keys_of(type_at((*at, *path[:-1]))))
            misspelt.add((*path[:-1], hint))
            yield (*at, *path), f"unknown {'key' if at or len(path) > 1 else 'table'}{hint}"
        elif error["type"] == "missing":
            if (*path[:-1], f'; did you mean "{path[-1]}"?') not in misspelt:
                yield (*at, *path), _missing((*at, *path))
        else:
            path = _existing(path, raw)
            yield (*at, *path), _wrong(error, (*at, *path), _value(path, raw))


def _missing(path: KeyPath) -> str:
    how = reader_of(path)
    if "dimension" not in how:
        return "missing"
    return f'missing; for example {path[-1]} = "{units.example(how["dimension"], how.get("count", 1))}"'


def _wrong(error: ErrorDetails, path: KeyPath, value: Any) -> str:
    kind, context = error["type"], error.get("ctx", {})
    got = "got a table" if isinstance(value, dict) else f"got {_short(value)}"
    if kind == "value_error":
        return str(context["error"])
    if kind in _BOUNDS:
        (limit,) = (context[key] for key in ("gt", "ge", "lt", "le") if key in context)
        return f"must be {_BOUNDS[kind]} {_limit(limit, path)}; {got}"
    if kind == "literal_error":
        return f"must be {context['expected']}; {got}"
    if kind in ("too_short", "too_long"):
        few = context.get("min_length", context.get("max_length"))
        return f"must have {few} items; got {context['actual_length']}"
    return f"{_TYPES.get(kind, 'is not understood')}; {got}"


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def _limit(limit: float, path: KeyPath) -> str:
    dimension = reader_of(path).get("dimension")
    return units.format_quantity(limit, dimension) if dimension and limit else f"{limit:g}"


def _existing(path: KeyPath, raw: Any) -> KeyPath:
    """The path as far as the raw tables go: text such as "30 x 30 mm" has become a tuple behind it."""
    for length, key in enumerate(path):
        inside = isinstance(raw, dict) and key in raw
        if not inside and not (isinstance(raw, list) and isinstance(key, int) and key < len(raw)):
            return path[:length]
        raw = raw[key]
    return path


def _value(path: KeyPath, raw: Any) -> Any:
    for key in path:
        raw = raw[key]
    return raw


def as_plain(raw: Raw) -> Raw:
    """A copy that JSON can hold, tuples made lists."""
    return dict(json.loads(json.dumps(raw)))

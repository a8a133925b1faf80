"""What the schema knows at a key path: used for addresses in options and for plain error messages."""

from math import inf
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from annotated_types import Le
from pydantic import BeforeValidator
from pydantic.fields import FieldInfo

from thermsim.case.errors import KeyPath, nearest
from thermsim.case.fields import Table
from thermsim.case.schema import CaseFile

NAMED_KINDS = tuple(key for key, field in CaseFile.model_fields.items() if get_origin(field.annotation) is dict)


def alternatives(kind: Any) -> list[Any]:
    """The types a value may have, without annotations and `None`."""
    if get_origin(kind) is Annotated:
        return alternatives(get_args(kind)[0])
    if get_origin(kind) in (Union, UnionType):
        return [one for option in get_args(kind) for one in alternatives(option)]
    return [] if kind is type(None) else [kind]


def step(kind: Any, key: str | int) -> Any | None:
    """The type one key further down, None if there is no such key."""
    for one in alternatives(kind):
        if isinstance(one, type) and issubclass(one, Table) and key in one.model_fields:
            return one.model_fields[str(key)].annotation
        if get_origin(one) is dict and isinstance(key, str):
            return get_args(one)[1]
        if get_origin(one) is tuple and isinstance(key, int):
            return get_args(one)[0]
    return None


def keys_of(kind: Any) -> tuple[str, ...]:
    """The keys of a table type; none where names are free or it is no table."""
    tables = (one for one in alternatives(kind) if isinstance(one, type) and issubclass(one, Table))
    return tuple(key for table in tables for key in table.model_fields)


def type_at(path: KeyPath) -> Any | None:
    """The type at a key path of a case file, None if the schema has no such path."""
    kind: Any | None = CaseFile
    for key in path:
        kind = step(kind, key)
        if kind is None:
            return None
    return kind


def unknown_key(path: KeyPath) -> str | None:
    """What to say about the first key of an address that the schema does not know; None if it knows all."""
    kind: Any = CaseFile
    for key in path:
        further = step(kind, key)
        if further is None:
            what = "table" if kind is CaseFile else "key"
            return f'unknown {what} "{key}"{nearest(str(key), keys_of(kind))}'
        kind = further
    return None


def field_at(path: KeyPath) -> FieldInfo | None:
    """The schema's field at a key path, if the last key is one of a table."""
    parent = type_at(path[:-1]) if path else None
    for one in alternatives(parent):
        if isinstance(one, type) and issubclass(one, Table):
            return one.model_fields.get(str(path[-1]))
    return None


def reader_of(path: KeyPath) -> dict[str, Any]:
    """How the field at a key path is read: `dimension` (or `dimensions`) and `count` where it has them."""
    field = field_at(path)
    metadata = _metadata(field.annotation) + list(field.metadata) if field else []
    for item in metadata:
        if isinstance(item, BeforeValidator):
            how: dict[str, Any] = getattr(item.func, "keywords", {})
            return getattr(how.get("read"), "keywords", {}) or how
    return {}


def most_allowed(path: KeyPath) -> float:
    """The largest value a key may have; infinite where the schema sets no bound."""
    field = field_at(path)
    told = _metadata(field.annotation) + list(field.metadata) if field else []
    inner = [one for item in told if isinstance(item, FieldInfo) for one in item.metadata]
    bounds = [item.le for item in (*told, *inner) if isinstance(item, Le)]
    return min((bound for bound in bounds if isinstance(bound, int | float)), default=inf)


def _metadata(kind: Any) -> list[Any]:
    found = list(kind.__metadata__) if get_origin(kind) is Annotated else []
    if get_origin(kind) in (Annotated, Union, UnionType):
        found += [item for option in get_args(kind) for item in _metadata(option)]
    return found

"""Plain tables as TOML: all in inline tables and quoted keys, which is enough for a reader and hides nothing."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def toml_text(tables: Mapping[str, Any]) -> str:
    """A TOML file of these tables; values TOML has not are written as they are, for the reader to refuse."""
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in tables.items())


def _key(key: Any) -> str:
    return json.dumps(str(key), ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(key)} = {_value(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _key(value)
    return repr(value) if isinstance(value, int | float) else str(value)

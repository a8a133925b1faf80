"""Surface finishes by name, for emissivities; they stand in the library of materials."""

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any

from thermsim.case.errors import nearest


@lru_cache(maxsize=1)
def finishes() -> Mapping[str, float]:
    """Emissivity of each finish of the library."""
    text = files("thermsim.case").joinpath("materials.toml").read_text(encoding="utf-8")
    return {_plain(name): table["emissivity"] for name, table in tomllib.loads(text)["finish"].items()}


def emissivity(value: Any) -> Any:
    """A finish's emissivity for its name; anything else as it is. Raises `ValueError` for an unknown name."""
    if not isinstance(value, str):
        return value
    known = finishes()
    if _plain(value) not in known:
        raise ValueError(f'unknown finish "{value}"{nearest(_plain(value), known)}')
    return known[_plain(value)]


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("-", " ").replace("_", " ").split())

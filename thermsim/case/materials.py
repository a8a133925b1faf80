"""Materials by name: the case's own first, then the library beside this file."""

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files

from thermsim.case.errors import nearest
from thermsim.case.solid import Material


@lru_cache(maxsize=1)
def library() -> Mapping[str, Material]:
    """The materials of the library by their names there."""
    text = files("thermsim.case").joinpath("materials.toml").read_text(encoding="utf-8")
    return {
        name: Material.model_validate(
            {
                "conductivity": f"{table['conductivity']} W/mK",
                "density": f"{table['density']} kg/m3",
                "cp": f"{table['cp']} J/kgK",
                "source": table["source"],
            }
        )
        for name, table in tomllib.loads(text)["material"].items()
    }


def material(name: str, own: Mapping[str, Material]) -> Material:
    """A material of the case (`own`) or of the library; case, spaces, - and _ make no difference.

    Raises `ValueError` with the nearest spelling for an unknown name.
    """
    for materials in (own, library()):
        found = _plain_names(materials).get(_plain(name))
        if found is not None:
            return materials[found]
    known = [_plain(known) for known in (*own, *library())]
    raise ValueError(f'unknown material "{name}"{nearest(_plain(name), known)}')


def _plain_names(materials: Mapping[str, Material]) -> dict[str, str]:
    return {_plain(name): name for name in materials}


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("-", " ").replace("_", " ").split())

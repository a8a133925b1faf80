"""Imports go one way, in the order that DEVELOPERS.md tells."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import thermsim

PACKAGE = Path(thermsim.__file__).parent
TOLD = re.search(r"^Imports go one way: (.+)\.$", (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8"), re.M)
ORDER = TOLD[1].split(" → ")
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path.parent != PACKAGE or path.stem in ORDER)


def imported(tree: ast.AST) -> Iterator[str]:
    """Names after `thermsim.`, whether imported at the top, in a function, or for types alone."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield from (f"{node.module}.{name.name}".removeprefix("thermsim.") for name in node.names)
        elif isinstance(node, ast.Import):
            yield from (name.name.removeprefix("thermsim.") for name in node.names)


def test_every_folder_has_its_place():
    assert {path.relative_to(PACKAGE).parts[0].removesuffix(".py") for path in MODULES} == set(ORDER)


@pytest.mark.parametrize("folder", ORDER)
def test_imports_go_one_way(folder):
    above = set(ORDER[ORDER.index(folder) + 1 :])
    mine = [path for path in MODULES if path.relative_to(PACKAGE).parts[0].removesuffix(".py") == folder]
    wrong = [
        f"{path.relative_to(PACKAGE)} imports {name}"
        for path in mine
        for name in imported(ast.parse(path.read_text(encoding="utf-8")))
        if name.split(".")[0] in above
    ]
    assert not wrong

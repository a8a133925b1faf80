"""Facts of finished studies beside the results: `<study>.json`, each stamped with the case it tells of."""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

from thermsim.case.case import Case

Facts = dict[str, Any]
STUDIES = ("compare", "chill", "place", "loop", "pipes", "mishap", "sweep", "leak", "bench", "fit")


def store(folder: str | Path, case: Case, facts: Facts, indent: int | None = 2) -> Path:
    """Write a study's facts, whole or not at all, under the name they hold as "study"; returns the file's path.

    `indent`: None writes all on one line, for facts with thousands of rows.
    """
    path = Path(folder) / f"{facts['study']}.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_name(path.name + ".part")
    stamped = facts | {"stamp": _stamp(case)}
    partial.write_text(
        json.dumps(stamped, indent=indent, separators=None if indent else (",", ":"), ensure_ascii=False) + "\n",
        encoding="utf-8",
    )
    partial.replace(path)
    return path


def stored(folder: str | Path, case: Case) -> dict[str, Facts]:
    """Facts by study of those stored in a folder for this very case and version, whatever its option."""
    found = {}
    for study in STUDIES:
        path = Path(folder) / f"{study}.json"
        if not path.exists():
            continue
        try:
            facts = json.loads(path.read_text(encoding="utf-8"))
        except ValueError:
            continue
        if facts.get("stamp") == _stamp(case):
            found[study] = facts
    return found


def _stamp(case: Case) -> dict[str, str]:
    return {"thermsim": version("thermsim"), "case": case.digest()}

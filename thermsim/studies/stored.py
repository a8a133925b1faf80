"""Facts of finished studies beside the results: `<study>.json`, stamped with the case and with what they say."""

from __future__ import annotations

import hashlib
import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

from thermsim.case.case import Case, digest_of
from thermsim.store.whole import write_json

Facts = dict[str, Any]
STUDIES = ("compare", "chill", "place", "loop", "pipes", "mishap", "sweep", "leak", "bench", "fit")
OF_LOGS = ("leak", "bench", "fit")


def store(folder: str | Path, case: Case, facts: Facts, indent: int | None = 2) -> Path:
    """Write a study's facts, whole or not at all, under the name they hold as "study"; returns the file's path.

    `indent`: None writes all on one line, for facts with thousands of rows.
    """
    path = Path(folder) / f"{facts['study']}.json"
    plain = json.loads(json.dumps(facts))  # as it will be read: names of a table may be numbers
    return write_json(path, facts | {"stamp": _stamp(case, plain)}, indent)


def stored(folder: str | Path, case: Case) -> dict[str, Facts]:
    """Facts by study of those stored in a folder for this very case and version, whatever its option.

    A file that was changed since is passed over: who shows facts relies on how they are built.
    """
    found = {}
    for study in STUDIES:
        path = Path(folder) / f"{study}.json"
        if not path.is_file():
            continue
        try:
            facts = json.loads(path.read_text(encoding="utf-8"))
            if facts["study"] == study and facts["stamp"] == _stamp(case, facts):
                found[study] = facts
        except (ValueError, TypeError, KeyError, RecursionError):
            continue
    return found


def _stamp(case: Case, facts: Facts) -> dict[str, str]:
    study, told = facts["study"], {key: value for key, value in facts.items() if key != "stamp"}
    stamp = {"thermsim": version("thermsim"), "case": case.digest(), "facts": digest_of(told)}
    return stamp | ({"logs": _logs(case, study)} if study in OF_LOGS else {})


def _logs(case: Case, study: str) -> str:
    """SHA-256 (hex) of the logs that a study reads, those that are there."""
    files = case.spec.leak.logs if study == "leak" else [run.file for run in case.spec.bench.run.values()]
    found = hashlib.sha256()
    for path in (case.folder / file for file in files):
        found.update(path.read_bytes() if path.is_file() else b"")
    return found.hexdigest()

"""All published checks on this machine: rows judged, the answer, and what computed them."""

from __future__ import annotations

import os
import platform
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from thermsim.store.whole import write_json
from thermsim.studies.where import HERE, Where
from thermsim.studies.workers import START_S, Piece, as_done
from thermsim.verify.answer import answer, by_section, limits
from thermsim.verify.ask import examine_check
from thermsim.verify.checkfile import CHECKS, check_names, read_checks

Facts = dict[str, Any]
BUILT_ON = ("numpy", "scipy", "fipy", "h5py", "fluids", "ht", "psychrolib", "pydantic")


def verify(
    names: Sequence[str] = (),
    folder: str | Path | None = None,
    where: Where = HERE,
    progress: Callable[[float, float], None] | None = None,
    checks: Path = CHECKS,
) -> Facts:
    """Ask every published check (or those named) and set what comes out beside what is printed.

    Stores `verify.json` in `folder`, if one is given. `checks`: the folder that holds them. Raises `CheckError` for an
    unknown name and for a check that is not there whole. Checks start in fresh processes: a script that calls this must
    do so under `if __name__ == "__main__":`.
    """
    started = time.perf_counter()
    asked = read_checks(names, checks)
    if folder is not None:
        Path(folder).mkdir(parents=True, exist_ok=True)  # at once: a folder that cannot be is told before the work
    pieces = [Piece(name, examine_check, (name, check, checks / name)) for name, check in asked.items()]
    found: dict[str, list[Facts]] = {}
    for key, rows in as_done(pieces, where, START_S):
        found[key] = rows
        if progress:
            progress(len(found), len(pieces))
    rows = [row for name in asked for row in found[name]]
    seconds = {name: found[name][0].pop("seconds") for name in asked}
    facts: Facts = {
        "rows": rows,
        "seconds": round(time.perf_counter() - started, 1),
        "checks": seconds,
        "checks_there_are": len(check_names(checks)),
        "made": made_by(),
    }
    facts = {"study": "verify", "answer": answer(facts), "limits": limits(), "sections": by_section(rows), **facts}
    if folder is not None:
        write_json(Path(folder) / "verify.json", facts)
    return facts


def made_by() -> Facts:
    """What computed the rows: version, machine, libraries, and when (UTC)."""
    return {
        "thermsim": version("thermsim"),
        "folder": str(CHECKS.parents[1]),
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "system": platform.platform(),
        "machine": platform.machine(),
        "cores": os.cpu_count(),
        "libraries": {name: version(name) for name in BUILT_ON},
    }

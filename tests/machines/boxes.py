"""Every study of one small box, and its facts without the time they took."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from thermsim.case import load_case
from thermsim.studies.chill.study import chill
from thermsim.studies.decide.study import compare_study
from thermsim.studies.loop.study import loop_study
from thermsim.studies.mishap.study import mishap
from thermsim.studies.place.study import place
from thermsim.studies.sweep.one import read_line
from thermsim.studies.sweep.study import follow, sweep
from thermsim.studies.where import Where

FILE = Path(__file__).parents[1] / "faults" / "box.toml"
BOX = load_case(FILE)
CLOCKS = {
    "timing", "seconds", "exact_s", "screening_s", "processor_s", "build_s", "steady_s", "transient_s", "stamp",
}  # fmt: skip
STUDIES: dict[str, Callable[[Path, Where], Any]] = {
    "compare": lambda folder, where: compare_study(BOX, folder, where=where, draws=16)[1],
    "mishap": lambda folder, where: mishap(BOX, folder, ["base"], ["pump.p stops", "room +8 K"], where),
    "chill": lambda folder, where: chill(BOX, folder, where=where),
    "sweep": lambda folder, where: sweep(BOX, folder, 130, check=2, where=where),
    "follow": lambda folder, where: follow(BOX, folder, read_line(BOX, "part.hot.watts", "2 W", "9 W", 12), where),
    "loop": lambda folder, where: loop_study(BOX, folder, where=where),
    "place": lambda folder, where: place(BOX, folder, where),
}


def facts_of(study: str, folder: Path, where: Where) -> Any:
    """Facts of a study, as they are stored, but for the time they took."""
    return unclocked(json.loads(json.dumps(STUDIES[study](folder, where))))


def unclocked(facts: Any) -> Any:
    """Facts without what a clock told."""
    if isinstance(facts, dict):
        return {key: unclocked(value) for key, value in facts.items() if key not in CLOCKS}
    return [unclocked(one) for one in facts] if isinstance(facts, list) else facts

"""The runs that a case names, each with its log."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Literal

from thermsim.bench.logs.log import Log
from thermsim.bench.logs.read import read_log
from thermsim.case.benching import Layout
from thermsim.case.case import Case
from thermsim.case.channels import is_there
from thermsim.case.references import added_by_options, tables


@dataclass(frozen=True)
class BenchRun:
    """One run on the bench. Its log is read when it is first asked for; that may raise `CaseError`."""

    name: str
    path: Path
    stands: Literal["before", "after", "other"]
    option: str | None  # what stood on the bench; None: the base case
    on_at: str | None = None
    layout: Layout = field(default=Layout(), repr=False)
    rated: dict[str, float] = field(default_factory=dict, repr=False)
    elsewhere: frozenset[str] = field(default=frozenset(), repr=False)  # channels of what did not stand there

    @cached_property
    def log(self) -> Log:
        """The run's log."""
        return read_log(self.path, self.layout, self.name, self.on_at, self.rated, self.elsewhere)


def runs_of(case: Case) -> list[BenchRun]:
    """The case's runs, in the order of its file."""
    found = []
    for name, run in case.spec.bench.run.items():
        layout = case.spec.bench.of(run)
        moving = any(channel.startswith(("fan.", "pump.")) for channel in layout.columns.values())
        rated = rated_speeds(case, run.option) if moving else {}
        path, there = case.folder / run.file, case.with_option(run.option).spec
        away = frozenset(one for one in layout.columns.values() if not is_there(there, one))
        found.append(BenchRun(name, path, run.stands, run.option, run.on_at, layout, rated, away))
    return found


def rated_speeds(case: Case, option: str | None) -> dict[str, float]:
    """Rated speeds, rev/s, of fans and pumps by channel: those of an option, and what only others have."""
    elsewhere = case.options if added_by_options(case.spec) else ()
    found: dict[str, float] = {}
    for name in dict.fromkeys((option, None, *elsewhere)):
        spec = case.with_option(name).spec
        for kind in ("fan", "pump"):
            for mover, table in tables(spec, kind).items():
                if table.rated_speed is not None:
                    found.setdefault(f"{kind}.{mover}", table.rated_speed)
    return found

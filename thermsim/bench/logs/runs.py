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
from thermsim.case.references import added_by_options


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

    @cached_property
    def log(self) -> Log:
        """The run's log."""
        return read_log(self.path, self.layout, self.name, self.on_at, self.rated)


def runs_of(case: Case) -> list[BenchRun]:
    """The case's runs, in the order of its file."""
    bench, rated = case.spec.bench, rated_speeds(case)
    return [
        BenchRun(name, case.folder / run.file, run.stands, run.option, run.on_at, bench.of(run), rated)
        for name, run in bench.run.items()
    ]


def rated_speeds(case: Case) -> dict[str, float]:
    """Rated speeds, rev/s, of fans and pumps by channel, those that only options add among them."""
    found: dict[str, float] = {}
    elsewhere = [case.with_option(name) for name in case.options] if added_by_options(case.spec) else []
    for one in (*elsewhere, case):
        for kind in ("fan", "pump"):
            for name, mover in getattr(one.spec, kind).items():
                if mover.rated_speed is not None:
                    found[f"{kind}.{name}"] = mover.rated_speed
    return found

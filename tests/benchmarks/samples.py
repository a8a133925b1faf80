"""Time samples of the digitiser's uncertain inputs against runs of the same box by the full engine.

`python -m tests.benchmarks.samples --count 2000`, from the root of the repository. Processor seconds, ratio in one run.
"""

from __future__ import annotations

import argparse
import json
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from thermsim.case import load_case
from thermsim.studies.run import run
from thermsim.studies.sweep.study import sweep

ROOT = Path(__file__).parents[2]
OUT = ROOT / "outputs" / "benchmarks"
RUNS = 25  # by the full engine, that all samples may cost no more than
TIMED = 3  # of them
CHECKED = 20  # samples that are settled in full as well


def measure(count: int, cell: str | None, option: str | None) -> dict[str, object]:
    """Samples with all that goes before them, and a few whole runs."""
    case = load_case(ROOT / "cases" / "digitiser", option, {"run.cell": cell} if cell else {})
    with TemporaryDirectory() as folder:
        run(case, Path(folder) / "warm")  # what is imported and built once is nobody's cost
        began = process_time()
        for k in range(TIMED):
            run(case, Path(folder) / f"run {k}", engine="full")
        full_s = (process_time() - began) / TIMED
        began = process_time()
        sweep(case, Path(folder) / "sweep", count, check=0)
        samples_s = process_time() - began
        checked = sweep(case, Path(folder) / "sweep", count, check=CHECKED)["samples"]
    return {
        "count": count, "unknowns": checked["cost"]["unknowns"], "samples_s": samples_s, "full_run_s": full_s,
        "runs_s": RUNS * full_s, "share": samples_s / (RUNS * full_s), "told_by_family": checked["told_by_family"],
        "in_full": checked["in_full"], "checked": checked["checked"],
    }  # fmt: skip


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=2000, help="samples")
    parser.add_argument("--cell", help='grid, such as "3 mm"; the case\'s own by default')
    parser.add_argument("--option", help="of the case")
    asked = parser.parse_args()
    found = measure(asked.count, asked.cell, asked.option)
    each = 1e3 * found["samples_s"] / asked.count  # type: ignore[operator]
    checked = found["checked"]
    print(f"{found['unknowns']:,} unknowns; {asked.count} samples {found['samples_s']:.1f} s, {each:.0f} ms each")
    print(f"a full-engine run {found['full_run_s']:.2f} s; {RUNS} of them {found['runs_s']:.1f} s")
    print(f"samples over those runs: {found['share']:.2f}; settled in full: {found['in_full']}")
    print(f"{checked['count']} at random in full: within {checked['largest_k']:.2g} K")  # type: ignore[index]
    OUT.mkdir(parents=True, exist_ok=True)
    path = OUT / f"samples-{datetime.now():%Y%m%d-%H%M%S}.json"
    path.write_text(json.dumps(found, indent=2) + "\n")
    print(f"kept in {path.relative_to(ROOT)}")


if __name__ == "__main__":
    main()

"""Time a further case of one box in a family's basis against the full engine's run of the same case.

`python -m tests.benchmarks.many --cell "2 mm"`, from the root of the repository. The box is the digitiser.
"""

from __future__ import annotations

import argparse
import json
from datetime import datetime
from pathlib import Path
from time import process_time

import numpy as np

from thermsim.case import load_case
from thermsim.case.case import Case
from thermsim.model.build import build
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.reduced.family import Family
from thermsim.solve.reduced.samples import sample_times, take_samples
from thermsim.solve.transient import Transient

ROOT = Path(__file__).parents[2]
OUT = ROOT / "outputs" / "benchmarks"
EXAMPLES, TRIED = 5, 4


def drawn(base: Case, rng: np.random.Generator) -> Case:
    """The box with a few inputs drawn between limits."""
    return base.with_changes({
        "room.temperature": f"{rng.uniform(20, 30):.1f} degC",
        "film.board_top.h": f"{rng.uniform(18, 35):.1f} W/m2K",
        "part.fpga.watts": f"{rng.uniform(10, 16):.1f} W",
        "sink.fpga.resistance": f"{rng.uniform(1.6, 2.4):.2f} K/W",
    })  # fmt: skip


def told(family: Family, case: Case) -> dict[str, object]:
    """Processor seconds of one case by both engines, and how far they are apart."""
    began = process_time()
    found = family.history(case)
    parts_s = process_time() - began
    model, end = build(case), case.spec.run.duration
    times = sample_times((), end)
    began = process_time()
    steps = list(Transient.of(model).steps(end))
    row: dict[str, object] = {"full_s": process_time() - began, "told": found is not None}
    if found is None:
        return row
    began = process_time()
    fields = [found.image.field(sample.x) for sample in take_samples(found.steps, times)]
    field_s = parts_s + process_time() - began
    missed = np.abs(np.array(fields) - [sample.x for sample in take_samples(steps, times)])
    parts = np.concatenate([model.numbers(f"part.{name}") for name in case.spec.part])
    return row | {
        "parts_s": parts_s, "field_s": field_s,
        "parts_k": float(missed[:, parts].max()), "field_k": float(missed.max()),
        "indicator_k": found.indicator,
    }  # fmt: skip


def measure(cell: str) -> dict[str, object]:
    """Growing the family, and a few cases by both engines."""
    rng = np.random.default_rng(7)
    base = load_case(ROOT / "cases" / "digitiser", None, {"run.cell": cell, "run.duration": "30 min"})
    began = process_time()
    family = Family.grow([base, *(drawn(base, rng) for _ in range(EXAMPLES))])
    vectors = [family.basis.size, family.leading.size]
    return {
        "unknowns": family.model.node_count, "grow_s": process_time() - began, "examples": EXAMPLES + 1,
        "vectors": vectors, "cases": [told(family, drawn(base, rng)) for _ in range(TRIED)],
    }  # fmt: skip


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cell", default="2 mm", help="grid of the digitiser")
    with collect_ranges():
        found = measure(parser.parse_args().cell)
    print(f"{found['unknowns']:,} unknowns; grown in {found['grow_s']:.1f} s from {found['examples']} cases")
    print(f"vectors: {found['vectors'][0]}, leading {found['vectors'][1]}")  # type: ignore[index]
    for row in found["cases"]:  # type: ignore[attr-defined]
        if row["told"]:
            full, parts, fields = row["full_s"], row["parts_s"], row["field_s"]
            print(f"full {full:.2f} s; parts {1e3 * parts:.0f} ms: {full / parts:.0f} times, {row['parts_k']:.3f} K;")
            print(f"  24 whole fields {1e3 * fields:.0f} ms: {full / fields:.0f} times, {row['field_k']:.3f} K")
        else:
            print(f"full {row['full_s']:.2f} s; not told by the family")
    OUT.mkdir(parents=True, exist_ok=True)
    path = OUT / f"many-{datetime.now():%Y%m%d-%H%M%S}.json"
    path.write_text(json.dumps(found, indent=2) + "\n")
    print(f"kept in {path.relative_to(ROOT)}")


if __name__ == "__main__":
    main()

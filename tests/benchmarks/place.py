"""Time a search for a plate's place against solving every position anew, in one run.

`OMP_NUM_THREADS=1 python -m tests.benchmarks.place --cell "2 mm"`, from the root of the repository. Seconds are the
processor's. "Again" is a position solved as the
search solves its leaders: built and factored anew; "solved" leaves the building out.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from time import process_time

from thermsim.case import load_case
from thermsim.model.build import build
from thermsim.report.text import columns
from thermsim.solve.steady import SteadySolver
from thermsim.studies.place.laid import Laid
from thermsim.studies.place.pair_search import laid_pair, search_pairs
from thermsim.studies.place.search import Screening
from thermsim.studies.place.setup import search_of
from thermsim.studies.place.tables import case_of, laid_out

CASE = Path(__file__).parents[2] / "cases" / "digitiser"


def main() -> None:
    """Screen, solve the leaders again, tell the ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case", nargs="?", default=str(CASE))
    parser.add_argument("--cell", default="2 mm")
    parser.add_argument("--leaders", type=int, default=5)
    parser.add_argument("--set", action="append", default=[])
    given = parser.parse_args()
    search = search_of(load_case(given.case, changes=[f"run.cell={given.cell}", *given.set]))
    start = process_time()
    screening = Screening(search)
    found = screening.single()
    screened = process_time() - start
    laid = [
        [Laid.by(search.first.plate, found.verdict(int(k)), search.first.layout)] for k in found.best(given.leaders)
    ]
    again = [solved_again(search, one, "series") for one in laid]
    rows = [line("one plate", found.allowed.size, screening, screened, again)]
    for arrangement in search.place.arrangement if search.second else ():
        start = process_time()
        pairs = search_pairs(screening, found, arrangement)
        screened = process_time() - start
        two = [laid_pair(search, (pairs.first[i], pairs.second[j])) for i, j in pairs.best(2)]
        again = [solved_again(search, one, arrangement) for one in two]
        rows.append(line(f"two in {arrangement}", pairs.count, screening, screened, again))
    head = ["search of", "positions", "unknowns", "screened s", "again s", "solved s", "times faster", "solving only"]
    print("\n".join(columns([head, *rows], " rrrrrrr")))


def solved_again(search, laid, arrangement) -> tuple[float, float]:
    """Seconds to build and solve one position, and to solve it."""
    start = process_time()
    model = build(case_of(laid_out(search.tables(), laid, arrangement, search.plumbing)))
    built = process_time()
    SteadySolver(model).solve(0.5 * min((*model.program.breaks, model.case.spec.run.duration)))
    return process_time() - start, process_time() - built


def line(name, count, screening, screened, again) -> list[str]:
    """A row of the table; the search's own time holds its leaders too."""
    each, solving = (sum(column) / len(again) for column in zip(*again, strict=True))
    spent = screened + sum(both for both, _ in again)
    unknowns = screening.box.model.node_count
    return [name, f"{count:,}", f"{unknowns:,}", f"{screened:.1f}", f"{each:.2f}", f"{solving:.2f}",
            f"{each * count / spent:,.0f}", f"{solving * count / spent:,.0f}"]  # fmt: skip


if __name__ == "__main__":
    main()

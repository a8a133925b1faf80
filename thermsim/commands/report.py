"""`thermsim report`."""

from __future__ import annotations

from collections.abc import Callable, Collection
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from thermsim.commands.shared import case_options, out_folder, print_json, progress, read_case, text_width
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.case import Case
    from thermsim.studies.where import Where

Progress = Callable[[float, float], None]
Facts = dict[str, Any]


@click.command("report")
@case_options
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder of the case's results.")
@where_options
@click.option("--stored", "only_stored", is_flag=True, help="Run nothing; show what is stored.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, out: str | None, where: Where,
    only_stored: bool,
) -> None:  # fmt: skip
    """Write one page of all that is known about a case.

    Runs the studies that are not stored yet for this very case (the comparison, chilled air where an airway takes air
    from outside, the plate's place where the case has a [place], loops and heat pipes where an option has them,
    mishaps, the sweep of the option that ranks first, and where the case has logs of a bench: leak test, before and
    after, the fit) and writes page.html in outputs/CASE (or -o DIR): a single file that needs nothing else. An
    interrupted call goes on where it stopped.
    """
    case = read_case(case_path, None, changes)
    from thermsim.report.page.write import write_case_page
    from thermsim.report.text import paragraphs
    from thermsim.studies.stored import stored

    folder = out_folder(out, case)
    if not only_stored:
        run_missing(case, folder, where, as_json)
    page = write_case_page(case, folder)
    if page is None:
        raise click.UsageError(
            f"{folder} holds no finished option of this case; run `thermsim compare` first, or leave out --stored"
        )
    answers = {study: facts["answer"] for study, facts in stored(folder, case).items()}
    if as_json:
        print_json({"page": str(page), "answers": answers})
        return
    for study, lines in answers.items():
        click.echo("\n".join([study, *paragraphs(lines, text_width(), "• "), ""]))
    click.echo(f"Stored in {page}; open it in a browser.")


def run_missing(case: Case, folder: Path, where: Where, quiet: bool) -> None:
    """Run the studies that the folder does not hold for this case, the comparison first.

    A shard does its share of each study that does not rest on another's answer, then raises `ShareDone`.
    """
    from thermsim.studies.stored import stored
    from thermsim.studies.where import ShareDone

    for study, work in studies_of(case, folder, where).items():
        there = stored(folder, case)
        if study in there or (where.shard and not can_be_shared(study, there)):
            continue
        with progress(study, quiet) as report, suppress(ShareDone):
            work(report)
    where.end_of_share()


def can_be_shared(study: str, there: Collection[str]) -> bool:
    """Whether a study has pieces of work that are known before other studies are done."""
    return study in ("compare", "chill", "place", "loop", "pipes", "mishap") or (
        study == "sweep" and "compare" in there
    )


def studies_of(case: Case, folder: Path, where: Where) -> dict[str, Callable[[Progress | None], object]]:
    """The studies of a case by name, in the order in which they run."""
    from thermsim.bench.fit.study import fit
    from thermsim.bench.leak.study import leak
    from thermsim.bench.paired.study import bench
    from thermsim.studies.chill.study import chill
    from thermsim.studies.decide.study import compare_study
    from thermsim.studies.loop.study import loop_study
    from thermsim.studies.mishap.study import mishap
    from thermsim.studies.pipes.study import pipes_study
    from thermsim.studies.place.study import place
    from thermsim.studies.sweep.study import sweep

    works: dict[str, Callable[[Progress | None], object]] = {
        "compare": lambda report: compare_study(case, folder, where=where, progress=report),
        "chill": lambda report: chill(case, folder, where=where, progress=report),
        "place": lambda report: place(case, folder, where=where, progress=report),
        "loop": lambda report: loop_study(case, folder, where=where, progress=report),
        "pipes": lambda report: pipes_study(case, folder, where=where, progress=report),
        "mishap": lambda report: mishap(case, folder, where=where, progress=report),
        "sweep": lambda report: sweep(
            case.with_option(first_ranked(case, folder)), folder, where=where, progress=report
        ),
        "leak": lambda _: leak(case, folder),
        "bench": lambda report: bench(case, folder, progress=report),
        "fit": lambda report: fit(case, folder, progress=report),
    }
    return {study: work for study, work in works.items() if is_asked_for(case, study)}


def is_asked_for(case: Case, study: str) -> bool:
    """Whether the case holds what a study is about; of most studies every case does."""
    from thermsim.case.chilling_checks import airway_to_chill
    from thermsim.studies.chosen import having

    runs = case.spec.bench.run.values()
    there = {
        "chill": airway_to_chill(case.spec) is not None,
        "place": case.spec.place is not None,
        "loop": bool(having(case, "loop")),
        "pipes": bool(having(case, "heat_pipe")),
        "leak": bool(case.spec.leak.logs or case.spec.leak.first),
        "bench": {"before", "after"} <= {run.stands for run in runs},
        "fit": bool(runs),
    }
    return there.get(study, True)


def first_ranked(case: Case, folder: Path) -> str | None:
    """The option that the stored comparison ranks first; None for the case itself."""
    from thermsim.studies.decide.roles import BASE
    from thermsim.studies.stored import stored

    decision = stored(folder, case).get("compare", {}).get("decision") or {"ranking": []}
    first = next((one["option"] for one in decision["ranking"] if one["passes"]), BASE)
    return None if first == BASE else first

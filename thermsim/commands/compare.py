"""`thermsim compare`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from thermsim.commands.shared import (
    case_options,
    engine_option,
    out_folder,
    print_json,
    progress,
    read_case,
    text_width,
)
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.solve.engine import Engine
    from thermsim.studies.where import Where


@click.command("compare")
@case_options
@click.option("--option", "-p", "chosen", multiple=True, metavar="NAME", help='Only these ("base" is the case itself).')
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@where_options
@engine_option
@click.option(
    "--draws",
    type=click.IntRange(0),
    default=64,
    show_default=True,
    metavar="N",
    help="Samples of what is not known well, in which each option passes or not; 0 for none.",
)
@click.option("--figures/--no-figures", default=True, help="Draw the figures and write the page too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, chosen: tuple[str, ...], out: str | None,
    where: Where, engine: Engine, draws: int, figures: bool,
) -> None:  # fmt: skip
    """Run every option of a case and set them side by side.

    Stores a folder for each option, the table as compare.json, figures on one scale and page.html in
    outputs/CASE (or -o DIR). Finished options are not run again.
    """
    case = read_case(case_path, None, changes)
    from thermsim.report.compare_text import compare_text
    from thermsim.report.decide_figures import save_compare
    from thermsim.report.figures import save_comparison
    from thermsim.report.page.write import write_case_page
    from thermsim.studies.decide.study import compare_study
    from thermsim.studies.where import Where
    from thermsim.studies.workers import Piece, as_done

    folder = out_folder(out, case)
    with progress("options", as_json) as report:
        results, facts = compare_study(case, folder, chosen or None, where, report, engine, draws)
    if figures:
        drawings = [Piece(name, draw, (result.path,)) for name, result in results.items()]
        with progress("figures", as_json) as report:
            for done, _ in enumerate(as_done(drawings, Where(where.processes)), start=1):
                if report:
                    report(done, len(drawings))
        save_comparison(results, folder)
        save_compare(facts, folder)
        write_case_page(case, folder)
    if as_json:
        print_json(facts)
    else:
        width = text_width()
        click.echo(compare_text(facts, width))
        click.echo(f"\nStored in {folder}{'; open page.html there' if figures else ''}.")


def draw(path: Path) -> None:
    """Draw a stored result's figures beside it."""
    from thermsim.report.figures import save_figures
    from thermsim.store.result import read_result

    save_figures(read_result(path), path.parent)

"""`thermsim run`."""

from __future__ import annotations

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

if TYPE_CHECKING:
    from thermsim.solve.engine import Engine


@click.command("run")
@case_options
@click.option("--option", "-p", "option", metavar="NAME", help='Option to run ("base" is the case itself).')
@click.option("--mishap", "mishaps", multiple=True, metavar="NAME", help="Let a mishap happen. May be repeated.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@engine_option
@click.option(
    "--doubling", is_flag=True, help="Run again with cells, and with steps, half as large: how far does that move it?"
)
@click.option("--figures/--no-figures", default=True, help="Draw the figures too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, option: str | None, mishaps: tuple[str, ...],
    out: str | None, engine: Engine, doubling: bool, figures: bool,
) -> None:  # fmt: skip
    """Run one case in time, from switch-on to its end.

    Stores result.h5 and summary.json, and the figures, in outputs/CASE/OPTION (or -o DIR).
    """
    case = read_case(case_path, option, changes)
    if mishaps:
        case = case.with_mishaps(mishaps)
    from thermsim.case.names import slug
    from thermsim.report.figures import save_figures
    from thermsim.report.text import run_text
    from thermsim.studies.run import run

    folder = out_folder(out, case, slug(case.option or "base"))
    with progress(case.option or "base", as_json) as report:
        result = run(case, folder, report, engine, doubling)
    if figures:
        save_figures(result, folder)
    if as_json:
        print_json(result.summary)
    else:
        click.echo(run_text(result.summary, result.case.spec, text_width()))
        click.echo(f"\nStored in {folder}{' with figures' if figures else ''}.")
    if any(must["met"] is False for must in result.summary["must_haves"]):
        raise SystemExit(1)

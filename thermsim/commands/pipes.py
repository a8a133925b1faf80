"""`thermsim pipes`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from thermsim.commands.shared import case_options, out_folder, progress, read_having, show
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.studies.where import Where


@click.command("pipes")
@case_options
@click.option("--option", "-p", "chosen", multiple=True, metavar="NAME", help='Only these ("base" is the case itself).')
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@where_options
@click.option("--figures/--no-figures", default=True, help="Draw the figures too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, chosen: tuple[str, ...], out: str | None, where: Where,
    figures: bool,
) -> None:  # fmt: skip
    """Heat pipes: do they carry their load in every state, tilted, and with one lost.

    Settles the option chosen, or every option that has heat pipes and no mishap of its own, in every operating state,
    and sets each table's load beside its capacity: the maker's, or that of the wick. Then one pipe of each table is
    lost, and the pipes are tilted as far as their wick is known. Stores pipes.json and a figure in outputs/CASE (or
    -o DIR).
    """
    case = read_having(case_path, "heat_pipe", chosen, changes)
    from thermsim.report.pipes_figures import save_pipes
    from thermsim.report.pipes_text import pipes_text
    from thermsim.studies.pipes.study import pipes_study

    folder = out_folder(out, case)
    with progress("heat pipes", as_json) as report:
        facts = pipes_study(case, folder, chosen, where, report)
    show(case, facts, folder, pipes_text, save_pipes if figures else None, as_json)

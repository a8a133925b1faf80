"""`thermsim loop`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from thermsim.commands.shared import case_options, out_folder, progress, read_having, show
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.studies.where import Where


@click.command("loop")
@case_options
@click.option("--option", "-p", "chosen", multiple=True, metavar="NAME", help='Only these ("base" is the case itself).')
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@where_options
@click.option("--figures/--no-figures", default=True, help="Draw the figures too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, chosen: tuple[str, ...], out: str | None, where: Where,
    figures: bool,
) -> None:  # fmt: skip
    """The book of a coolant loop: does it carry the heat, what eats the head, what to change first.

    Settles the option chosen, or every option that has a loop and no mishap of its own, and tells by element the
    pressure in its shares, Reynolds number, temperatures and heat; pump and loop where they meet; branches; what to
    fill in, how it expands and what gas it needs over it; the mix of metals; how long the level lasts. Of several
    options a line each. Stores loop.json and figures in outputs/CASE (or -o DIR).
    """
    case = read_having(case_path, "loop", chosen, changes)
    from thermsim.report.loop_figures import save_loop
    from thermsim.report.loop_text import loop_text
    from thermsim.studies.loop.study import loop_study

    folder = out_folder(out, case)
    with progress("loops", as_json) as report:
        facts = loop_study(case, folder, chosen, where, report)
    show(case, facts, folder, loop_text, save_loop if figures else None, as_json)

"""`thermsim mishap`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from thermsim.commands.shared import case_options, out_folder, progress, read_case, show
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.studies.where import Where


@click.command("mishap")
@case_options
@click.option("--option", "-p", "chosen", multiple=True, metavar="NAME", help='Only these ("base" is the case itself).')
@click.option("--mishap", "-m", "names", multiple=True, metavar="NAME", help="Only these; may be repeated.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@where_options
@click.option("--figures/--no-figures", default=True, help="Draw the figures too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, chosen: tuple[str, ...], names: tuple[str, ...],
    out: str | None, where: Where, figures: bool,
) -> None:  # fmt: skip
    """Let pumps, fans and rooms fail: time to the first limit, and what stays safe.

    The base case and every option with a loop (or those chosen) settle, then suffer each mishap of the case file that
    concerns them and the customary ones: every pump and fan stops, a filter clogs, a branch is airlocked, the room
    gets 8 and 12 K warmer, 30 % of the coolant goes. Told are the time to the first limit and the part, what an alarm
    would gain, and the power that stays safe for ever. Stores mishap.json and figures in outputs/CASE (or -o DIR).
    """
    case = read_case(case_path, None, changes)
    from thermsim.report.mishap_figures import save_mishap
    from thermsim.report.mishap_text import mishap_text
    from thermsim.studies.mishap.study import mishap

    folder = out_folder(out, case)
    with progress("mishaps", as_json) as report:
        facts = mishap(case, folder, chosen, names, where, report)
    show(case, facts, folder, mishap_text, save_mishap if figures else None, as_json)

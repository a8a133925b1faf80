"""`thermsim place`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from thermsim.commands.shared import case_options, out_folder, progress, read_case, show
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.studies.where import Where


@click.command("place")
@case_options
@click.option("--pitch", metavar="MM", help='From one position to the next, as in "5 mm".')
@click.option("--leaders", type=int, metavar="N", help="Best positions that are solved again exactly.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@where_options
@click.option("--figures/--no-figures", default=True, help="Draw the maps too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, pitch: str | None, leaders: int | None, out: str | None,
    where: Where, figures: bool,
) -> None:  # fmt: skip
    """Search for the place of a cold plate, or of two.

    Tries every position and both orientations of the plate that the case's [place] table names; keeps to keep-outs,
    screws, heights and hose bends; tells the worst margin of each with the loop's flow solved again, which positions
    are allowed, the best pair in series and in parallel, and other channel layouts at the best place. Stores
    place.json and maps in outputs/CASE (or -o DIR).
    """
    given = {"pitch": pitch, "leaders": leaders}
    settings = {f"place.{key}": value for key, value in given.items() if value is not None}
    case = read_case(case_path, None, changes).with_changes(settings)
    from thermsim.report.place_figures import save_place
    from thermsim.report.place_text import place_text
    from thermsim.studies.place.study import place

    folder = out_folder(out, case)
    with progress("positions", as_json) as report:
        facts = place(case, folder, where, report)
    show(case, facts, folder, place_text, save_place if figures else None, as_json)

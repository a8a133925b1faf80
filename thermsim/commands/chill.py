"""`thermsim chill`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from thermsim.commands.shared import case_options, out_folder, progress, read_case, show
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.studies.where import Where


@click.command("chill")
@case_options
@click.option("--option", "-p", "option", metavar="NAME", help='Option to chill ("base" is the case itself).')
@click.option("--airway", metavar="NAME", help="Airway whose inlet is chilled (default: the one that cools most).")
@click.option("--low", metavar="DEGC", help='Coldest inlet, as in "5 degC".')
@click.option("--high", metavar="DEGC", help="Warmest inlet (default: 8 K above the room).")
@click.option("--steps", type=int, metavar="N", help="Temperatures between them, the ends included.")
@click.option("--weather", type=click.Path(), metavar="CSV", help="Hourly weather, for the hours of condensation.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@where_options
@click.option("--figures/--no-figures", default=True, help="Draw the figure too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, option: str | None, airway: str | None, low: str | None,
    high: str | None, steps: int | None, weather: str | None, out: str | None, where: Where,
    figures: bool,
) -> None:  # fmt: skip
    """Sweep the inlet temperature: what chilled air alone would achieve.

    Settles the box at each inlet, with speeds frozen where they are now and with the governors live; tells from
    which inlet on air does what each liquid option does, what stays dry, and the cheapest trial on a bench.
    Settings may stand in the case's [chill] table. Stores chill.json and figures in outputs/CASE (an option's in
    outputs/CASE/OPTION), or -o DIR. A weather file has a row an hour and names its columns with units:
    "temperature_degc,humidity_percent", or a dew point.
    """
    given = {"airway": airway, "low": low, "high": high, "steps": steps}
    settings = {f"chill.{key}": value for key, value in given.items() if value is not None}
    case = read_case(case_path, option, changes).with_changes(settings)
    from thermsim.case.names import slug
    from thermsim.report.chill_figures import save_chill
    from thermsim.report.chill_text import chill_text
    from thermsim.studies.chill.study import chill

    folder = out_folder(out, case, *([slug(case.option)] if case.option else []))
    with progress("inlets", as_json) as report:
        facts = chill(case, folder, weather, where, report)
    show(case, facts, folder, chill_text, save_chill if figures else None, as_json)

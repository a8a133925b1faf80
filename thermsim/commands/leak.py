"""`thermsim leak`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from thermsim.commands.shared import out_folder, print_json, read_case, text_width

if TYPE_CHECKING:
    from thermsim.case import Case

MANY = ("first", "last", "after", "logs")  # flags that may be repeated, one for each test


@click.command("leak")
@click.argument("case_path", metavar="[CASE]", type=click.Path(), required=False)
@click.option("--first", multiple=True, metavar="READING", help='Pressure and temperature, "150.2 kPa, 23.0 degC".')
@click.option("--last", multiple=True, metavar="READING", help="The same at the end.")
@click.option(
    "--after", multiple=True, metavar="TIME", help='Time between them, "30 min". Repeat all three for more tests.'
)
@click.option(
    "--log", "logs", multiple=True, type=click.Path(), metavar="CSV", help="A log of one test; may be repeated."
)
@click.option("--column", "columns", multiple=True, metavar="HEADER=CHANNEL",
              help='Which column is "pressure", "temperature", "atmosphere".')  # fmt: skip
@click.option("--unit", "units", multiple=True, metavar="HEADER=UNIT", help="Unit of a column whose header has none.")
@click.option("--gauge", is_flag=True, help="Readings are over the atmosphere.")
@click.option("--atmosphere", metavar="PRESSURE", help="The atmosphere as measured, for a gauge.")
@click.option("--atmosphere-after", metavar="PRESSURE", help="And at the end.")
@click.option("--volume", metavar="VOLUME", help="Of all that holds the test's air.")
@click.option("--volume-uncertainty", metavar="VOLUME", help="Its standard uncertainty.")
@click.option("--resolution", metavar="PRESSURE", help="Last digit of the gauge.")
@click.option("--gauge-uncertainty", metavar="PRESSURE", help="One reading against another, standard uncertainty.")
@click.option("--temperature-uncertainty", metavar="K", help='Half width of an even spread (default "0.1 K").')
@click.option("--limit", metavar="RATE", help='What is accepted, "0.05 sccm".')
@click.option("--soak", metavar="TIME", help="Beginning of a log to leave out (default: until it falls evenly).")
@click.option("--set", "changes", multiple=True, metavar="NAME.KEY=VALUE", help="Change the case by address.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results (with a CASE).")
@click.option("--figures/--no-figures", default=True, help="Draw the figure too (of logs, with a CASE).")
def command(
    case_path: str | None, changes: tuple[str, ...], columns: tuple[str, ...], units: tuple[str, ...], as_json: bool,
    out: str | None, figures: bool, **given: Any,
) -> None:  # fmt: skip
    """Leak rate of a loop from a fall of pressure, with its uncertainty.

    Dry air, electronics out, behind a shield: read the cautions first. Takes two readings or a log of each test, and
    takes out what temperature does to the pressure. Settings may stand in the case's [leak] table; without a CASE all
    come from the flags. Nothing is guessed: a volume without its uncertainty gives no result.
    """
    settings = _settings(given) | _by_header("column", columns) | _by_header("unit", units)
    case = _case(case_path, changes).with_changes(settings)
    from thermsim.bench.leak.study import leak
    from thermsim.report.leak_figures import save_leak
    from thermsim.report.leak_text import leak_text
    from thermsim.report.page.write import write_case_page

    folder = out_folder(out, case) if case_path else None
    facts = leak(case, folder)
    if figures and folder is not None:
        save_leak(facts, folder)
        write_case_page(case, folder)
    if as_json:
        print_json(facts)
        return
    click.echo(leak_text(facts, text_width()))
    if folder is not None:
        click.echo(f"\nStored in {folder}{' with figures' if figures else ''}.")


def _case(path: str | None, changes: tuple[str, ...]) -> Case:
    """The case, or an empty one for a test of a loop that has none."""
    if path is not None:
        return read_case(path, None, changes)
    from thermsim.case import Case

    return Case.from_dict({"case": {"title": "A loop without a case"}, "room": {"temperature": "20 degC"}}, "flags")


def _settings(given: dict[str, Any]) -> dict[str, Any]:
    """Flags as changes of `[leak]`; readings put logs of the case aside, and the other way round."""
    settings = {f"leak.{key}": list(value) if key in MANY else value for key, value in given.items() if value}
    if given["logs"]:
        settings["leak.logs"] = [str(Path(path).resolve()) for path in given["logs"]]
        settings = {f"leak.{key}": [] for key in ("first", "last", "after")} | settings
    elif any(given[key] for key in MANY):
        settings["leak.logs"] = []
    return settings


def _by_header(flag: str, texts: tuple[str, ...]) -> dict[str, Any]:
    """Flags such as --column "p (kPa)=pressure" as changes."""
    found = {}
    for text in texts:
        header, equals, value = text.rpartition("=")
        if not equals:
            raise click.UsageError(f"--{flag} {text}: expected HEADER={'CHANNEL' if flag == 'column' else 'UNIT'}")
        found[f'leak.{flag}s."{header}"'] = value
    return found

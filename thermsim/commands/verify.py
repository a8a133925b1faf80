"""`thermsim verify`."""

from __future__ import annotations

from pathlib import Path

import click

from thermsim.commands.shared import print_json, progress, text_width, writable


@click.command("verify")
@click.argument("names", metavar="[NAME]...", nargs=-1)
@click.option("--list", "as_list", is_flag=True, help="List the checks and do none.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results (default: outputs/verify).")
@click.option("-j", "workers", type=click.IntRange(1), help="Checks at once (default: as many as there are cores).")
def command(names: tuple[str, ...], as_list: bool, as_json: bool, out: str | None, workers: int | None) -> None:
    """Prove this installation: published figures beside what it computes.

    Each check is a case file inside the package, asked by the same functions as a case of yours: worked examples of
    textbooks, standards and handbooks. With NAMEs only those checks. Stores verify.json and verify.html. Exit status 1
    if a figure is not met.
    """
    from thermsim.verify.checkfile import read_checks

    if as_list:
        from thermsim.report.verify_text import list_text

        click.echo(list_text(read_checks(names)))
        return
    folder = writable(Path(out) if out is not None else Path("outputs", "verify"))
    from thermsim.report.page.verify import write_verify_page
    from thermsim.report.verify_text import verify_text
    from thermsim.studies.where import Where
    from thermsim.verify.study import verify

    with progress("checks", as_json) as report:
        facts = verify(names, folder, Where(processes=workers), report)
    page = write_verify_page(facts, folder)
    if as_json:
        print_json(facts)
    else:
        click.echo(f"{verify_text(facts, text_width())}\n\nStored in {folder}; the page is {page}.")
    if not all(row["passed"] for row in facts["rows"]):
        raise SystemExit(1)

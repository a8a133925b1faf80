"""`thermsim plot`."""

from __future__ import annotations

import click

from thermsim.commands.shared import print_json, writable


@click.command("plot")
@click.argument("results", metavar="RESULT...", nargs=-1, required=True, type=click.Path())
@click.option(
    "-o", "out", metavar="DIR", type=click.Path(), help="Folder for the figures (default: beside the result)."
)
@click.option("--format", "formats", multiple=True, type=click.Choice(["png", "svg"]), help="Default: both.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
def command(results: tuple[str, ...], out: str | None, formats: tuple[str, ...], as_json: bool) -> None:
    """Draw the figures of stored results; several are also set side by side on one scale.

    A RESULT is a result.h5 or the folder that holds one; one that was cut short is drawn as far as it goes.
    """
    from pathlib import Path

    from thermsim.report.figures import save_comparison, save_figures
    from thermsim.store.result import read_result

    wanted = formats or ("png", "svg")
    read = [read_result(path) for path in results]
    several = len(read) > 1
    folders = [writable(Path(out) if out and not several else result.path.parent) for result in read]
    compared = writable(Path(out or ".")) if several else None
    written = []
    for result, folder in zip(read, folders, strict=True):
        written += save_figures(result, folder, wanted)
    if compared:
        written += save_comparison({result.option or "base": result for result in read}, compared, wanted)
    if as_json:
        print_json([str(path) for path in written])
    else:
        click.echo("\n".join(str(path) for path in written))

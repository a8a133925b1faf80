"""`thermsim merge`."""

from __future__ import annotations

from pathlib import Path

import click

from thermsim.commands.shared import print_json, writable


@click.command("merge")
@click.argument("folders", metavar="FOLDER...", nargs=-1, required=True, type=click.Path())
@click.option("-o", "out", metavar="DIR", type=click.Path(), required=True, help="Folder to bring them into.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
def command(folders: tuple[str, ...], out: str, as_json: bool) -> None:
    """Bring the folders of shards together that worked on machines without a disk in common.

    Takes whole results and finished pieces of work, and refuses, before it writes anything, folders that hold
    different things under one name. The study called with -o DIR, without --shard, then tells its answer. The folders
    themselves are left as they are.
    """
    from thermsim.studies.merge import merge

    told = merge(folders, writable(Path(out)))
    if as_json:
        print_json(told)
        return
    for path in told["passed_over"]:
        click.echo(f"passed over, for it is not finished: {path}", err=True)
    there = told["results_there"] + told["pieces_there"]
    also = f" (there before: {there})" if there else ""
    click.echo(f"{told['results']} results and {told['pieces']} pieces of work brought into {out}{also}.")
